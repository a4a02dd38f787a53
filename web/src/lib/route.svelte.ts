// Which page is shown. The address after # says it, so that the pages work from
// any server of files, and from none.

export type Page = 'tonight' | 'nights' | 'farm' | 'feeds' | 'block';
export type BlockPart = 'night' | 'worth' | 'start';

export interface Route {
  page: Page;
  block: string;
  part: BlockPart;
  night: number;
}

const parts: BlockPart[] = ['night', 'worth', 'start'];
const pages: Page[] = ['tonight', 'nights', 'farm', 'feeds'];

export function parse(hash: string): Route {
  const [first = '', id = '', part = '', night = ''] = hash.replace(/^#?\/?/, '').split('/').map(decode);
  const n = Number.parseInt(night, 10);
  return {
    page: first === 'block' && id ? 'block' : (pages.find((p) => p === first) ?? 'tonight'),
    block: first === 'block' || first === 'farm' ? id : '',
    part: parts.find((p) => p === part) ?? 'night',
    night: n >= 0 && n < 14 ? n : 0,
  };
}

function decode(s: string): string {
  try {
    return decodeURIComponent(s);
  } catch {
    return s; // a stray % in a block's name
  }
}

export const blockLink = (id: string, part: BlockPart = 'night', night = 0): string =>
  `#/block/${encodeURIComponent(id)}/${part}` + (night ? `/${night}` : '');

export const farmLink = (id: string): string => `#/farm/${encodeURIComponent(id)}`;

class Address {
  at = $state.raw<Route>(parse(globalThis.location?.hash ?? ''));

  listen(): () => void {
    const read = () => (this.at = parse(location.hash));
    addEventListener('hashchange', read);
    return () => removeEventListener('hashchange', read);
  }
}

export const address = new Address();

// Questions to the program, through its own client, with what a phone in a field
// needs besides: a time limit on every question, trouble said in a sentence, and
// answers kept for when the program cannot be reached, each with the moment it
// was kept.

import { client, Problem } from '../api/client';

const shelfName = 'budward-kept';
const stamp = 'budward-kept-at';

// Limits. An answer for hundreds of blocks takes the program some tens of
// seconds to work out; a slow line adds to that.
const askLimit = 90_000; // ms
const saveLimit = 20_000; // ms
const keepAfter = 500; // ms: an answer is shown first, kept then

/** Trouble is why a question got no answer, in a sentence a person can act on. */
export class Trouble extends Error {
  constructor(
    message: string,
    readonly status: number, // 0: not reached
    readonly details: string[] = [],
  ) {
    super(message);
  }

  /** said is everything in one line. */
  get said(): string {
    return [this.message, ...this.details].join(' ');
  }
}

export const said = (e: unknown): string => (e instanceof Trouble ? e.said : e instanceof Error ? e.message : String(e));

function trouble(e: unknown, timedOut: boolean, limit: number): Trouble {
  if (e instanceof Problem) {
    // The details of one error say what its detail says.
    const many = (e.document?.errors ?? []).filter((x) => x.message && x.message !== e.document?.detail);
    const details = many.map((x) => (x.location ? `${x.location}: ${x.message}` : (x.message ?? '')));
    return new Trouble(e.message, e.status, details);
  }
  if (timedOut) return new Trouble(`The program did not answer within ${limit / 1000} seconds.`, 0);
  return new Trouble('The program cannot be reached.', 0);
}

async function shelf(): Promise<Cache | null> {
  if (!('caches' in globalThis)) return null; // plain http to another machine
  try {
    return await caches.open(shelfName);
  } catch {
    return null; // storage refused or full
  }
}

const keptUnder = (name: string): string => new URL('kept/' + name, location.href.split('#')[0]).href;

/** Kept is an answer and the moment it came from the program. */
export interface Kept<T> {
  value: T;
  at: number; // Unix ms, by this device's clock
}

/** kept returns the last answer that was kept under a name, if there is one. */
export async function kept<T>(name: string): Promise<Kept<T> | null> {
  try {
    const r = await (await shelf())?.match(keptUnder(name));
    const at = Number(r?.headers.get(stamp));
    if (!r || !at) return null;
    return { value: (await r.json()) as T, at };
  } catch {
    return null; // spoilt: as if none had been kept
  }
}

async function keep(name: string, text: string, at: number): Promise<void> {
  try {
    const c = await shelf();
    await c?.put(keptUnder(name), new Response(text, { headers: { 'content-type': 'application/json', [stamp]: String(at) } }));
  } catch {
    // full: the page still has the answer
  }
}

type Asker = ReturnType<typeof client>;

async function within<T>(limit: number, name: string, question: (c: Asker) => Promise<T>): Promise<Kept<T>> {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), limit);
  let at = 0;
  const asker = client({
    fetch: async (input, init) => {
      const r = await fetch(input, { ...init, signal: stop.signal });
      at = Date.now();
      if (!name || !r.ok) return r;
      const text = await r.text();
      setTimeout(() => void keep(name, text, at), keepAfter);
      return new Response(text, { status: r.status, headers: r.headers });
    },
  });
  try {
    return { value: await question(asker), at };
  } catch (e) {
    throw trouble(e, stop.signal.aborted, limit);
  } finally {
    clearTimeout(timer);
  }
}

/** ask asks the program, and keeps the answer under a name where one is given. */
export const ask = <T>(question: (c: Asker) => Promise<T>, name = ''): Promise<Kept<T>> => within(askLimit, name, question);

/** askOrKept falls back on what was kept where the program is not reached. */
export async function askOrKept<T>(name: string, question: (c: Asker) => Promise<T>): Promise<T> {
  try {
    return (await ask(question, name)).value;
  } catch (e) {
    const old = e instanceof Trouble && e.status === 0 ? await kept<T>(name) : null;
    if (old) return old.value;
    throw e;
  }
}

/** send gives the program something to keep, or to work out now. */
export const send = async <T>(question: (c: Asker) => Promise<T>): Promise<T> => (await within(saveLimit, '', question)).value;

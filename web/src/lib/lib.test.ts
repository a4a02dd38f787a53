import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Answer, BlockAnswer } from '../types';
import { deeds, first } from './deeds';
import { agoText, daysSince, mixtureShort, stageWords, wantsLook } from './look';
import { middle, nearest, plan } from './map';
import { prose } from './prose';
import { blockLink, parse } from './route.svelte';
import { ofNight, place, spanning } from './scale';
import { order, severities } from './severity';
import { worstNight } from './week';
import { moistures, stages, surfaceSent, surfaces, surfaceText } from './words';

const answer = JSON.parse(readFileSync(new URL('../../tests/fixtures/tonight-us.json', import.meta.url), 'utf8')) as Answer;
const plain = (s: string) => s.replaceAll('\u00a0', ' ');

describe('what to do', () => {
  const list = deeds(answer);
  it('holds every chosen thing once, and nothing else', () => {
    const want = answer.blocks.flatMap((b) => b.choices.filter((c) => c.chosen && c.kind !== 'nothing').map((c) => `${b.block_id} ${c.kind}`));
    const got = list.flatMap((d) => d.tasks.map((t) => `${t.block.block_id} ${t.choice.kind}`));
    expect(got.sort()).toEqual(want.sort());
    expect(want.length).toBeGreaterThan(3);
  });
  it('is in order of time', () => {
    const starts = list.map((d) => d.tasks[0]!.at);
    expect(starts).toEqual([...starts].sort((a, b) => a - b));
    for (const d of list) expect(d.tasks.map((t) => t.at)).toEqual(d.tasks.map((t) => t.at).sort((a, b) => a - b));
  });
  it('loses no caution', () => {
    for (const d of list) for (const t of d.tasks) for (const c of t.choice.cautions ?? []) expect(d.cautions).toContain(c);
  });
  it('shows a condition once, or with its own block', () => {
    for (const d of list) for (const c of d.conditions) for (const t of d.tasks) expect(t.choice.conditions).toContain(c);
  });
  it('finds the first thing of the night', () => {
    const all = answer.blocks.flatMap((b) => b.choices.filter((c) => c.chosen && !c.ahead && c.kind !== 'nothing'));
    const least = Math.min(...all.map((c) => Date.parse(c.start_at!)));
    expect(first(list)?.at).toBe(least);
    expect(first([])).toBeNull();
  });
});

describe('the worst night', () => {
  it('has the greatest expected loss', () => {
    const w = worstNight(answer)!;
    const loss = (i: number) => answer.blocks.reduce((s, b) => s + (b.nights[i]?.risk?.loss_money ?? 0), 0);
    for (let i = 0; i < answer.nights.length; i++) expect(loss(i)).toBeLessThanOrEqual(w.loss!);
    for (const b of answer.blocks) expect(b.nights[w.night]!.min!.p50_c).toBeGreaterThanOrEqual(w.low);
    expect(w.known).toBeLessThan(answer.blocks.length); // one block of the demo has no stage
  });
  it('is none without a forecast', () => {
    const bare = { ...answer, blocks: answer.blocks.map((b) => ({ ...b, nights: b.nights.map((n) => ({ ...n, min: null, risk: null })) })) };
    expect(worstNight(bare)).toBeNull();
  });
});

describe('the scale', () => {
  it.each(['us', 'metric'] as const)('holds every forecast and line (%s)', (u) => {
    const s = ofNight(answer.blocks, 0, u);
    for (const b of answer.blocks) {
      const n = b.nights[0]!;
      for (const c of [n.min!.p10_c, n.min!.p50_c, n.min!.p90_c]) {
        expect(place(s, c)).toBeGreaterThanOrEqual(0);
        expect(place(s, c)).toBeLessThanOrEqual(1);
      }
    }
    expect(s.ticks.length).toBeGreaterThanOrEqual(2);
    expect(s.ticks.every((t) => Number.isFinite(Number(t.text.replace('\u2212', '-'))))).toBe(true);
  });
  it('has ends even where nothing is forecast', () => expect(ofNight([], 0, 'us').hi).toBeGreaterThan(ofNight([], 0, 'us').lo));
  it('has room for one temperature', () => expect(spanning(1, 1, 'metric').hi).toBeGreaterThan(spanning(1, 1, 'metric').lo));
});

describe('the map', () => {
  // A square kilometre at 60 degrees north, where a degree of longitude is half one of latitude.
  const d = 1 / 111.32;
  const square = [[10, 60], [10 + 2 * d, 60], [10 + 2 * d, 60 + d], [10, 60 + d], [10, 60]];
  const p = plan([{ id: 'a', polygon: square }, { id: 'none' }, { id: 'bad', polygon: [[1]] }], 400, 400)!;
  it('keeps shapes true', () => {
    const n = p.shapes[0]!.path.match(/-?[\d.]+/g)!.map(Number);
    const wide = n[2]! - n[0]!;
    const high = n[1]! - n[5]!;
    expect(Math.abs(wide / high - 1)).toBeLessThan(0.002); // cos is taken at the middle: 0.5 % of a degree off
    expect(p.metre * 1000).toBeCloseTo(wide, 0); // to a pixel: corners are written to a tenth
    expect(p.shapes).toHaveLength(1);
  });
  it('puts north up', () => {
    const n = p.shapes[0]!.path.match(/-?[\d.]+/g)!.map(Number);
    expect(n[1]).toBeGreaterThan(n[5]!); // the south edge is lower on the page
  });
  it('is none without outlines', () => expect(plan([{ id: 'a' }], 400, 400)).toBeNull());
  it('finds the middle whichever way a ring runs', () => {
    const ring: [number, number][] = [[0, 0], [4, 0], [4, 2], [0, 2]];
    expect(middle(ring)).toEqual([2, 1]);
    expect(middle([...ring].reverse())).toEqual([2, 1]);
    expect(middle([[1, 1], [1, 1], [1, 1]])).toEqual([1, 1]);
  });
  it('walks to the neighbour', () => {
    const at = (id: string, x: number, y: number) => ({ id, path: '', x, y, room: 0 });
    const all = [at('a', 0, 0), at('b', 10, 1), at('c', 11, 30), at('d', 0, 10)];
    expect(nearest(all, all[0]!, 1, 0)?.id).toBe('b');
    expect(nearest(all, all[0]!, 0, 1)?.id).toBe('d');
    expect(nearest(all, all[0]!, -1, 0)).toBeNull();
  });
});

describe('words', () => {
  it('keeps numbers with their units and joins the dates of a night', () => {
    expect(prose('31.7 °F likely, 66 % on Fri 10 - Sat 11 Apr')).toBe('31.7\u00a0°F likely, 66\u00a0% on Fri 10 \u2013 Sat 11 Apr');
    expect(prose('gives 80.0 gpm: D2 at 90.0 gpm/ac')).toBe('gives 80.0\u00a0gpm: D2 at 90.0\u00a0gpm/ac');
    expect(prose('Tue 31 Mar - Wed 1 Apr')).toBe('Tue 31 Mar \u2013 Wed 1 Apr');
    expect(prose('walk the block and run `budward stage record`.')).toBe('walk the block and record its stage.');
    expect(prose('a 10 - 12 range')).toBe('a 10 - 12 range');
  });
  it('reads the floors of the program', () => {
    expect(plain(surfaceText('cover 0.15239999999999998m', 'us'))).toBe('cover 6 in tall');
    expect(plain(surfaceText('disked 0.1016m', 'us'))).toBe('disked 4 in deep');
    expect(plain(surfaceText('shredded 0.03m', 'metric'))).toBe('shredded 3 cm thick');
    expect(plain(surfaceText('cover', 'metric', { height_m: 0.3, depth_m: 0 }))).toBe('cover 30 cm tall');
    expect(surfaceText('bare firm', 'us')).toBe('bare firm');
    expect(surfaceText('something new', 'us')).toBe('something new');
  });
  it('writes a floor so that the program reads it back', () => {
    expect(surfaceSent({ surface: 'residue', height_m: 0.0254, depth_m: 0 })).toBe('shredded 0.0254m');
    expect(surfaceSent({ surface: 'disked', height_m: 0, depth_m: 0.1 })).toBe('disked 0.1m');
    expect(surfaceSent({ surface: 'bare firm', height_m: 0, depth_m: 0 })).toBe('bare firm');
  });
  it('offers no two things of the same name', () => {
    for (const list of [surfaces('us'), surfaces('metric'), moistures, stages]) {
      expect(new Set(list.map((o) => o.sent)).size).toBe(list.length);
    }
  });
});

describe('looks', () => {
  const b = (seen: string | null) => ({ stage: { mixture: { seen_at: seen, shares: seen ? [{ step: 4, stage: { scale: 'el', code: 7 }, share: 1 }] : [] } } }) as unknown as BlockAnswer;
  const now = Date.parse('2026-04-08T12:00:00Z');
  it('asks for a look after three days, or where nobody ever looked', () => {
    expect(wantsLook(b('2026-04-06T12:00:00Z'), now)).toBe(false);
    expect(wantsLook(b('2026-04-05T11:00:00Z'), now)).toBe(true);
    expect(wantsLook(b(null), now)).toBe(true);
    expect(wantsLook(undefined, now)).toBe(true);
  });
  it('says how long ago', () => {
    expect(agoText(daysSince(b('2026-04-08T07:00:00Z'), now))).toBe('today');
    expect(agoText(daysSince(b('2026-04-07T11:00:00Z'), now))).toBe('yesterday');
    expect(agoText(daysSince(b('2026-04-04T11:00:00Z'), now))).toBe('4 days ago');
    expect(agoText(null)).toBe('never looked at');
  });
  it('names the commonest stage', () => {
    const m = answer.blocks.find((x) => x.block_id === 'A1')!.stage.mixture;
    expect(plain(mixtureShort(m))).toBe('two to three leaves 40 %, and 3 more');
    expect(mixtureShort(undefined)).toBe('not on record');
    expect(stageWords({ scale: 'bbch', code: 12 })).toBe('BBCH 12');
  });
});

describe('addresses', () => {
  it('go there and back', () => {
    for (const id of ['A1', 'north / 2', '50%', 'ü']) {
      expect(parse(blockLink(id, 'worth'))).toMatchObject({ page: 'block', block: id, part: 'worth' });
      expect(parse(blockLink(id, 'night', 3))).toMatchObject({ block: id, night: 3 });
    }
  });
  it('lead to tonight when they mean nothing', () => {
    for (const h of ['', '#', '#/none', '#/block', '#/%', '#/tonight/x']) expect(parse(h).page).toBe('tonight');
    expect(parse('#/block/A1/none/99')).toMatchObject({ part: 'night', night: 0 });
  });
});

// sRGB relative luminance and contrast, as WCAG 2.2 defines them.
const luminance = (hex: string) => {
  const [r, g, b] = [1, 3, 5].map((i) => {
    const v = Number.parseInt(hex.slice(i, i + 2), 16) / 255;
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};

describe('severity', () => {
  it('has a word, a shape and a colour of its own each', () => {
    for (const key of ['word', 'shape', 'colour'] as const) expect(new Set(order.map((u) => severities[u][key])).size).toBe(order.length);
  });
  // Okabe and Ito, Color Universal Design (2008): vermilion, reddish purple, orange, sky blue, bluish green.
  it('takes its colours from the palette', () => {
    expect(order.map((u) => severities[u].colour)).toEqual(['#d55e00', '#cc79a7', '#e69f00', '#56b4e9', '#009e73']);
  });
  it('keeps the pupil and the question mark visible on their colours', () => {
    // 3:1 is what WCAG 2.2 asks of graphics (1.4.11); the strokes are #15110d.
    for (const u of order) expect((luminance(severities[u].colour) + 0.05) / (luminance('#15110d') + 0.05)).toBeGreaterThan(3);
  });
});

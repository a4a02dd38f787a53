// One temperature scale for all blocks of a page, so that their rulers compare.

import type { BlockAnswer } from '../types';
import { degrees, toCelsius, type System } from './units';

export interface Scale {
  lo: number; // degC at the left end
  hi: number; // degC at the right end
  ticks: { at: number; text: string }[]; // 0..1, numbers as read
}

/** place is where a temperature stands on the scale, 0..1, and outside beyond. */
export const place = (s: Scale, c: number): number => (c - s.lo) / (s.hi - s.lo);

/** spanning makes a scale from lo to hi degC with whole numbers for ticks. */
export function spanning(lo: number, hi: number, u: System, most = 6): Scale {
  const steps = u === 'us' ? [1, 2, 5, 10, 20, 50] : [0.5, 1, 2, 5, 10, 20];
  const a = degrees(lo, u);
  const b = degrees(hi, u);
  const step = steps.find((x) => (b - a) / x <= most) ?? 100;
  const from = Math.floor(a / step) * step;
  const to = Math.max(from + step, Math.ceil(b / step) * step);
  const s: Scale = { lo: toCelsius(from, u), hi: toCelsius(to, u), ticks: [] };
  for (let v = from; v <= to + step / 1000; v += step) {
    s.ticks.push({ at: (v - from) / (to - from), text: String(Number(v.toFixed(1))).replace('-', '\u2212') });
  }
  return s;
}

/** ofNight spans what a night brings to the blocks and what they can stand. */
export function ofNight(blocks: BlockAnswer[], night: number, u: System): Scale {
  let lo = Infinity;
  let hi = -Infinity;
  for (const b of blocks) {
    const n = b.nights[night];
    if (!n?.min) continue;
    lo = Math.min(lo, n.min.p10_c);
    hi = Math.max(hi, n.min.p90_c, n.critical_t10_c ?? -Infinity);
  }
  return lo <= hi ? spanning(lo, hi, u) : spanning(-5, 5, u);
}

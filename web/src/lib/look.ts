// How far a block's buds were when somebody last looked, in few words, and
// whether it is time to look again.

import type { BlockAnswer, FarmBlock, Mixture, Stage } from '../types';
import { moment } from './time';
import { stages } from './words';

/** Buds open by a leaf in three to five warm days: a look older than this is stale. */
export const lookDays = 3;

export const stageWords = (s: Stage): string =>
  (s.scale === 'el' && stages.find((x) => x.code === s.code)?.words) || `${scales[s.scale] ?? s.scale} ${s.code}`;

const scales: Record<string, string> = { el: 'E-L', el1977: 'E-L of 1977', bbch: 'BBCH' };

/** mixtureShort: "two to three leaves 40 %, and 3 more". */
export function mixtureShort(m: Mixture | undefined): string {
  const all = [...(m?.shares ?? [])].sort((a, b) => b.share - a.share);
  const most = all[0];
  if (!most) return 'not on record';
  const words = stageWords(most.stage);
  if (all.length === 1) return words;
  return `${words} ${Math.round(most.share * 100)}\u00a0%, and ${all.length - 1} more`;
}

/** daysSince is how many days ago somebody last looked; null: never. */
export function daysSince(b: BlockAnswer | null | undefined, now: number): number | null {
  const at = moment(b?.stage.mixture.seen_at);
  return at && b?.stage.mixture.shares?.length ? (now - at.getTime()) / 86_400_000 : null;
}

export function wantsLook(b: BlockAnswer | null | undefined, now: number): boolean {
  const d = daysSince(b, now);
  return d === null || d > lookDays;
}

export function agoText(days: number | null): string {
  if (days === null) return 'never looked at';
  if (days < 1) return 'today';
  const n = Math.floor(days);
  return n === 1 ? 'yesterday' : `${n} days ago`;
}

/** moistureShort: "hand-feel 23 %, middle 20 %". */
export const moistureShort = (b: FarmBlock): string =>
  b.strips.map((s) => `${s.name} ${Math.round(s.moisture.value_m3_m3 * 100)}\u00a0%`).join(', ');

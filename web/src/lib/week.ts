// The nights ahead seen over all blocks.

import type { Answer, BlockAnswer } from '../types';

/** As the program's own: one chance in twenty is where a grower stays up. */
const dangerShare = 0.05;

export interface WorstNight {
  night: number;
  label: string;
  block: BlockAnswer; // the coldest that night
  low: number; // degC, its likely low
  loss: number | null; // money expected over all blocks, null where unknown everywhere
  inDanger: number;
  known: number; // blocks whose risk is known
}

/** worstNight is the night with the greatest expected loss; the coldest where none is known. */
export function worstNight(a: Answer): WorstNight | null {
  let best: WorstNight | null = null;
  for (let i = 0; i < a.nights.length; i++) {
    const x = summary(a, i);
    if (!x) continue;
    const worse = !best || (x.loss ?? 0) > (best.loss ?? 0) || ((x.loss ?? 0) === (best.loss ?? 0) && x.low < best.low);
    if (worse) best = x;
  }
  return best;
}

function summary(a: Answer, i: number): WorstNight | null {
  let out: WorstNight | null = null;
  let loss: number | null = null;
  let inDanger = 0;
  let known = 0;
  for (const b of a.blocks) {
    const n = b.nights[i];
    if (!n?.min) continue;
    if (n.risk) {
      known++;
      loss = (loss ?? 0) + n.risk.loss_money;
      if (n.risk.probability >= dangerShare) inDanger++;
    }
    if (!out || n.min.p50_c < out.low) {
      out = { night: i, label: n.label, block: b, low: n.min.p50_c, loss, inDanger, known };
    }
  }
  return out && { ...out, loss, inDanger, known };
}

// How worrying a block is: a word, a shape and a colour, always together. The
// colours are of the palette of Okabe and Ito (2008), told apart with any common
// colour vision; the shapes differ in outline, not in detail.

import type { Urgency } from '../types';

export interface Severity {
  word: string;
  colour: string;
  means: string;
  shape: string; // SVG path in a box of 24
  detail: string; // strokes on top of it
}

export const severities: Record<Urgency, Severity> = {
  act: {
    word: 'Act',
    colour: '#d55e00',
    means: 'something pays tonight, or the loss is beyond what is accepted',
    shape: 'M1.5 4h21L12 22.5z',
    detail: '',
  },
  unknown: {
    word: 'Unknown',
    colour: '#cc79a7',
    means: 'no answer: look at the block',
    shape: 'M12 1.8a10.2 10.2 0 1 1 0 20.4a10.2 10.2 0 1 1 0-20.4z',
    detail: 'M8.6 9.2c0-2 1.5-3.4 3.5-3.4s3.5 1.3 3.5 3.1c0 2.6-3.5 2.8-3.5 5.3M12.1 17.4v1.2',
  },
  watch: {
    word: 'Watch',
    colour: '#e69f00',
    means: 'damage is possible, nothing pays tonight',
    shape: 'M.8 12Q12-2.5 23.2 12Q12 26.5.8 12z',
    detail: 'M12 9a3 3 0 1 1 0 6a3 3 0 1 1 0-6z',
  },
  prepare: {
    word: 'Prepare',
    colour: '#56b4e9',
    means: 'quiet tonight; work by day pays for a night ahead',
    shape: 'M2 17.5a10 10 0 0 1 20 0z',
    detail: 'M.8 21.6h22.4',
  },
  quiet: {
    word: 'Quiet',
    colour: '#009e73',
    means: 'nothing to do',
    shape: 'M1.5 9h21v6h-21z',
    detail: '',
  },
};

export const order: Urgency[] = ['act', 'unknown', 'watch', 'prepare', 'quiet'];

/** severityOf never fails: a word this page does not know is shown as unknown. */
export const severityOf = (u: string): Severity => severities[u as Urgency] ?? severities.unknown;

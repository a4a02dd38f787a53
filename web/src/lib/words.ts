// The words of floors and moisture: what the program calls them, what a person
// reads, and the few that cover most days.

import { length, type System } from './units';

/** surfaceText reads "cover 0.1524m" as "cover 6 in tall". */
export function surfaceText(surface: string, u: System, strip?: { height_m: number; depth_m: number }): string {
  const m = /^(\D+?)(?: ([\d.]+)m)?$/.exec(surface.trim());
  const word = m?.[1] ?? surface;
  const metres = m?.[2] ? Number(m[2]) : word === 'disked' ? strip?.depth_m : strip?.height_m;
  const name = word === 'residue' ? 'shredded' : word;
  if (!metres) return name;
  const size = length(round(metres), u).replace(/\.0+(?=\u00a0)/, '');
  if (name === 'disked') return `disked ${size} deep`;
  if (name === 'cover') return `cover ${size} tall`;
  if (name === 'shredded') return `shredded ${size} thick`;
  return `${name} ${size}`;
}

// Inches that became metres and back are written as they were.
const round = (m: number): number => Math.round(m * 1e5) / 1e5;

/** surfaceSent is a surface as the program reads it back. */
export const surfaceSent = (s: { surface: string; height_m: number; depth_m: number }): string => {
  if (s.surface === 'bare firm') return s.surface;
  return `${s.surface === 'residue' ? 'shredded' : s.surface} ${s.surface === 'disked' ? s.depth_m : s.height_m}m`;
};

export interface Option { sent: string; text: string }

/** surfaces are the floors a person picks from. */
export function surfaces(u: System): Option[] {
  const us = u === 'us';
  return [
    { sent: 'bare firm', text: 'bare and firm' },
    { sent: us ? 'mown 2in' : 'mown 5cm', text: us ? 'mown to 2 in' : 'mown to 5 cm' },
    { sent: us ? 'cover 6in' : 'cover 15cm', text: us ? 'cover 6 in tall' : 'cover 15 cm tall' },
    { sent: us ? 'cover 12in' : 'cover 30cm', text: us ? 'cover 12 in tall' : 'cover 30 cm tall' },
    { sent: us ? 'cover 24in' : 'cover 60cm', text: us ? 'cover 24 in tall' : 'cover 60 cm tall' },
    { sent: us ? 'shredded 1in' : 'shredded 3cm', text: us ? 'shredded, 1 in thick' : 'shredded, 3 cm thick' },
    { sent: us ? 'disked 4in' : 'disked 10cm', text: us ? 'disked 4 in deep' : 'disked 10 cm deep' },
  ];
}

/** moistures go by the feel of the top foot in the hand, driest first. */
export const moistures: Option[] = [
  { sent: 'dry', text: 'dry' },
  { sent: 'slightly moist', text: 'slightly moist' },
  { sent: 'moist', text: 'moist' },
  { sent: 'wet', text: 'wet' },
  { sent: 'field capacity', text: 'field capacity' },
];

export interface StageWord { sent: string; code: number; words: string; both: string }

/** stages of spring on the modified E-L scale, with BBCH, as the program writes them. */
export const stages: StageWord[] = [
  { code: 1, words: 'winter bud', both: 'E-L 1, BBCH 00' },
  { code: 2, words: 'bud scales opening', both: 'E-L 2, BBCH 01' },
  { code: 3, words: 'woolly bud', both: 'E-L 3, BBCH 03-05' },
  { code: 4, words: 'bud burst, leaf tips visible', both: 'E-L 4, BBCH 07-09' },
  { code: 5, words: 'rosette of leaf tips', both: 'E-L 5, BBCH 09' },
  { code: 7, words: 'first leaf separated', both: 'E-L 7, BBCH 11' },
  { code: 9, words: 'two to three leaves', both: 'E-L 9, BBCH 12-13' },
  { code: 11, words: 'four leaves', both: 'E-L 11, BBCH 14' },
  { code: 12, words: 'five leaves, inflorescence clear', both: 'E-L 12, BBCH 15/53' },
  { code: 13, words: 'six leaves', both: 'E-L 13, BBCH 16/53' },
  { code: 14, words: 'seven leaves', both: 'E-L 14, BBCH 17/53' },
  { code: 15, words: 'eight leaves, flowers in compact groups', both: 'E-L 15, BBCH 53' },
].map((s) => ({ ...s, sent: `EL ${s.code}` }));

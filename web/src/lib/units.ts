// Numbers for people: SI in, US customary or metric words out. A temperature
// takes the 32-degree offset, a difference of temperatures never does. Digits
// are those of the program's own printing, so that a page and its sentences
// agree.

export type System = 'us' | 'metric';

const inchMM = 25.4; // by definition
const footM = 0.3048; // by definition
const acreM2 = 4046.8564224; // international acre: 43 560 ft2
const gallonL = 3.785411784; // US gallon: 231 in3
const acreFootM3 = acreM2 * footM;
const mileHourMS = 0.44704; // by definition

export const unknown = 'unknown';
const minus = '\u2212';
const nbsp = '\u00a0';

type Number_ = number | null | undefined;

const known = (v: Number_): v is number => v !== null && v !== undefined && Number.isFinite(v);

/** fixed writes v with a true minus, and never as minus nought. */
export function fixed(v: number, digits: number): string {
  const t = Math.abs(v).toFixed(digits);
  return v < 0 && Number(t) !== 0 ? minus + t : t;
}

/** three writes v with about three significant digits and at most max after the point. */
export function three(v: number, max: number): string {
  let digits = max;
  for (let limit = 9.995; digits > 0 && Math.abs(v) >= limit * 10 ** (2 - max); digits--) limit *= 10;
  return fixed(v, digits);
}

export const fahrenheit = (c: number): number => c * 1.8 + 32;

/** degrees is a temperature as the number people read. */
export const degrees = (c: number, u: System): number => (u === 'us' ? fahrenheit(c) : c);

/** toCelsius is the way back from degrees. */
export const toCelsius = (v: number, u: System): number => (u === 'us' ? (v - 32) / 1.8 : v);

/** spanOf is a difference as the number people read. */
export const spanOf = (k: number, u: System): number => (u === 'us' ? k * 1.8 : k);

export const degreeUnit = (u: System): string => (u === 'us' ? '°F' : '°C');
export const spanUnit = (u: System): string => (u === 'us' ? '°F' : 'K');

/** degreesText is a temperature without its unit, to a tenth. */
export const degreesText = (c: Number_, u: System): string => (known(c) ? fixed(degrees(c, u), 1) : unknown);

/** temperature: "28.4 °F". */
export const temperature = (c: Number_, u: System): string =>
  known(c) ? degreesText(c, u) + nbsp + degreeUnit(u) : unknown;

/** difference: "1.3 °F", "0.7 K". */
export const difference = (k: Number_, u: System): string =>
  known(k) ? fixed(spanOf(k, u), 1) + nbsp + spanUnit(u) : unknown;

/** signed: "+1.3 °F"; what rounds to nought has no sign. */
export function signed(k: Number_, u: System): string {
  if (!known(k)) return unknown;
  const t = difference(k, u);
  return k > 0 && Number.parseFloat(t) !== 0 ? '+' + t : t;
}

/** percent: a share that is not nought or one never prints as 0 or 100. */
export function percent(share: Number_): string {
  if (!known(share)) return unknown;
  const v = share * 100;
  if (v > 0 && v < 0.5) return '<1' + nbsp + '%';
  if (v < 100 && v >= 99.5) return '>99' + nbsp + '%';
  return fixed(v, 0) + nbsp + '%';
}

export const area = (ha: Number_, u: System): string => {
  if (!known(ha)) return unknown;
  return u === 'us' ? three((ha * 1e4) / acreM2, 2) + nbsp + 'ac' : three(ha, 2) + nbsp + 'ha';
};

export const waterDepth = (mm: Number_, u: System): string => {
  if (!known(mm)) return unknown;
  return u === 'us' ? three(mm / inchMM, 2) + nbsp + 'in' : three(mm, 1) + nbsp + 'mm';
};

/** length: inches below 5 ft and feet above; centimetres below 1 m. */
export const length = (m: Number_, u: System): string => {
  if (!known(m)) return unknown;
  if (u === 'us') {
    return Math.abs(m) < 5 * footM ? three((m * 1000) / inchMM, 1) + nbsp + 'in' : three(m / footM, 1) + nbsp + 'ft';
  }
  if (Math.abs(m) < 0.01) return three(m * 1000, 1) + nbsp + 'mm';
  return Math.abs(m) < 1 ? three(m * 100, 1) + nbsp + 'cm' : three(m, 2) + nbsp + 'm';
};

/** volume: gallons below a tenth of an acre-foot, acre-feet above; cubic metres. */
export const volume = (m3: Number_, u: System): string => {
  if (!known(m3)) return unknown;
  if (u === 'us') {
    return m3 < acreFootM3 / 10
      ? grouped((m3 * 1000) / gallonL) + nbsp + 'gal'
      : three(m3 / acreFootM3, 3) + nbsp + 'ac-ft';
  }
  return m3 < 1 ? three(m3 * 1000, 1) + nbsp + 'L' : grouped(m3) + nbsp + 'm³';
};

/** applicationRate over a block: 1 US gpm/ac = 0.0561 cm/h. */
export const applicationRate = (mmH: Number_, u: System): string => {
  if (!known(mmH)) return unknown;
  const gpmAcre = (gallonL * 60) / acreM2; // mm/h of one gpm/ac
  return u === 'us' ? three(mmH / gpmAcre, 1) + nbsp + 'gpm/ac' : three(mmH, 2) + nbsp + 'mm/h';
};

export const wind = (ms: Number_, u: System): string => {
  if (!known(ms)) return unknown;
  return u === 'us' ? fixed(ms / mileHourMS, 1) + nbsp + 'mph' : fixed(ms, 1) + nbsp + 'm/s';
};

const groupedFormat = new Intl.NumberFormat('en', { maximumFractionDigits: 0 });
const grouped = (v: number): string => groupedFormat.format(v);

const moneyFormats = new Map<string, Intl.NumberFormat>();

/** money to the whole unit of the farm's currency. */
export function money(v: Number_, currency: string): string {
  if (!known(v)) return unknown;
  let f = moneyFormats.get(currency);
  if (!f) {
    try {
      f = new Intl.NumberFormat('en', { style: 'currency', currency, maximumFractionDigits: 0, currencyDisplay: 'narrowSymbol' });
    } catch {
      f = new Intl.NumberFormat('en', { maximumFractionDigits: 0 }); // a code that is none: the number alone
    }
    moneyFormats.set(currency, f);
  }
  const whole = Math.round(Math.abs(v));
  return (v < 0 && whole !== 0 ? minus : '') + f.format(whole);
}

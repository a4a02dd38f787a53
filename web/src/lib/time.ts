// Times as the clock on the farm's wall shows them, whatever the phone is set
// to. The day stands with the hour wherever the hour alone could mean two
// nights. Hours run to 24, as in the program's sentences.

const formats = new Map<string, Intl.DateTimeFormat>();

function format(zone: string, key: 'clock' | 'day' | 'date'): Intl.DateTimeFormat {
  const id = key + ' ' + zone;
  let f = formats.get(id);
  if (!f) {
    const options: Intl.DateTimeFormatOptions =
      key === 'clock'
        ? { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }
        : key === 'day'
          ? { weekday: 'short' }
          : { weekday: 'short', day: 'numeric', month: 'short' };
    try {
      f = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: zone });
    } catch {
      f = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: 'UTC', timeZoneName: 'short' });
    }
    formats.set(id, f);
  }
  return f;
}

type Moment = string | number | Date | null | undefined;

/** moment reads a time; null and the empty string are no time. */
export function moment(at: Moment): Date | null {
  if (at === null || at === undefined || at === '') return null;
  const d = new Date(at);
  return Number.isNaN(d.getTime()) ? null : d;
}

const unknown = 'unknown';

/** clock: "21:15". */
export function clock(at: Moment, zone: string): string {
  const d = moment(at);
  return d ? format(zone, 'clock').format(d) : unknown;
}

/** day: "Wed". */
export function day(at: Moment, zone: string): string {
  const d = moment(at);
  return d ? format(zone, 'day').format(d) : unknown;
}

/** date: "Wed 8 Apr". */
export function date(at: Moment, zone: string): string {
  const d = moment(at);
  return d ? format(zone, 'date').format(d).replace(',', '') : unknown;
}

/** dayClock: "Wed 21:15". */
export const dayClock = (at: Moment, zone: string): string =>
  moment(at) ? day(at, zone) + ' ' + clock(at, zone) : unknown;

/** dateClock: "Wed 8 Apr 21:15". */
export const dateClock = (at: Moment, zone: string): string =>
  moment(at) ? date(at, zone) + ' ' + clock(at, zone) : unknown;

/** bothDates are the evening and the morning of a night: ["Wed 8", "Thu 9"]. */
export function bothDates(night: { sunset_at: string; sunrise_at: string }, zone: string): [string, string] {
  const short = (at: string) => date(at, zone).split(' ').slice(0, 2).join(' ');
  return [short(night.sunset_at), short(night.sunrise_at)];
}

const minute = 60_000;
const nbsp = '\u00a0';

/** span writes a length of time: "25 min", "6 h 15 min", "3 days". */
export function span(ms: number): string {
  const min = Math.round(Math.abs(ms) / minute);
  if (min < 60) return `${min}${nbsp}min`;
  const h = Math.floor(min / 60);
  if (h < 48) return min % 60 ? `${h}${nbsp}h ${min % 60}${nbsp}min` : `${h}${nbsp}h`;
  return `${Math.round(h / 24)}${nbsp}days`;
}

/** hoursText writes hours: "0.6 h" is "36 min". */
export const hoursText = (h: number | null | undefined): string =>
  h === null || h === undefined || !Number.isFinite(h) ? unknown : span(h * 60 * minute);

/** until: "in 6 h 15 min", "now", "25 min ago". */
export function until(at: Moment, now: number): string {
  const d = moment(at);
  if (!d) return unknown;
  const ms = d.getTime() - now;
  if (Math.abs(ms) < minute) return 'now';
  return ms > 0 ? `in ${span(ms)}` : `${span(ms)} ago`;
}

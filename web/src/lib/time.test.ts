import { describe, expect, it } from 'vitest';
import * as t from './time';

describe('the farm’s clock', () => {
  it('shows the farm’s hour, not the device’s', () => {
    expect(t.clock('2026-04-09T04:15:00Z', 'America/Los_Angeles')).toBe('21:15'); // UTC-7 in April
    expect(t.dayClock('2026-04-09T04:15:00Z', 'America/Los_Angeles')).toBe('Wed 21:15');
    expect(t.clock('2026-04-09T07:00:00Z', 'America/Los_Angeles')).toBe('00:00');
  });
  it('knows zones of half an hour and less', () => {
    expect(t.clock('2026-10-01T00:00:00Z', 'Australia/Adelaide')).toBe('09:30'); // UTC+9:30 before summer time
    expect(t.clock('2026-10-01T00:00:00Z', 'Pacific/Chatham')).toBe('13:45'); // UTC+13:45 in summer time
  });
  // 8 March 2026, 2 a.m.: clocks in the United States go forward an hour.
  it('goes through the change of clocks', () => {
    expect(t.clock('2026-03-08T09:59:00Z', 'America/Los_Angeles')).toBe('01:59');
    expect(t.clock('2026-03-08T10:00:00Z', 'America/Los_Angeles')).toBe('03:00');
  });
  it('writes a night with both dates', () => {
    const night = { sunset_at: '2026-02-28T17:50:00-08:00', sunrise_at: '2026-03-01T06:38:00-08:00' };
    expect(t.bothDates(night, 'America/Los_Angeles')).toEqual(['Sat 28', 'Sun 1']);
  });
  it('is unknown without a time', () => {
    for (const at of [null, undefined, '', 'no time']) {
      expect(t.clock(at, 'UTC')).toBe('unknown');
      expect(t.dateClock(at, 'UTC')).toBe('unknown');
      expect(t.until(at, 0)).toBe('unknown');
    }
  });
  it('names the zone where it does not know the farm’s', () => {
    expect(t.clock('2026-04-09T04:15:00Z', 'No/Such')).toContain('04:15');
  });
});

const plain = (s: string) => s.replaceAll('\u00a0', ' ');

describe('lengths of time', () => {
  const min = 60_000;
  it.each([[0, '0 min'], [25 * min, '25 min'], [60 * min, '1 h'], [375 * min, '6 h 15 min'], [47 * 60 * min, '47 h'], [72 * 60 * min, '3 days']])(
    '%i ms', (ms, want) => expect(plain(t.span(ms))).toBe(want));
  it('looks ahead and back', () => {
    const now = Date.UTC(2026, 3, 8, 22);
    expect(plain(t.until(now + 90 * min, now))).toBe('in 1 h 30 min');
    expect(plain(t.until(now - 90 * min, now))).toBe('1 h 30 min ago');
    expect(t.until(now + 30_000, now)).toBe('now');
  });
  it('writes hours as people say them', () => {
    expect(plain(t.hoursText(2.41))).toBe('2 h 25 min'); // 144.6 min
    expect(t.hoursText(null)).toBe('unknown');
  });
});

import { describe, expect, it } from 'vitest';
import * as u from './units';

const plain = (s: string) => s.replaceAll('\u00a0', ' ').replaceAll('\u2212', '-');

describe('temperatures and differences', () => {
  // Fixed points: ice 0 degC = 32 degF, steam 100 degC = 212 degF, the scales meet at -40.
  it.each([[0, '32.0 °F'], [100, '212.0 °F'], [-40, '-40.0 °F'], [-2.2, '28.0 °F']])('%f degC', (c, want) => {
    expect(plain(u.temperature(c, 'us'))).toBe(want);
  });
  it('keeps Celsius', () => expect(plain(u.temperature(-2.25, 'metric'))).toMatch(/^-2\.[23] °C$/));
  it('goes back the way it came', () => {
    for (const v of [-17.3, 0, 12.5]) {
      for (const s of ['us', 'metric'] as const) expect(u.toCelsius(u.degrees(v, s), s)).toBeCloseTo(v, 12); // double precision
    }
  });
  // A kelvin is 1.8 degF wide wherever it lies: no offset.
  it('gives a difference no offset', () => {
    expect(plain(u.difference(0, 'us'))).toBe('0.0 °F');
    expect(plain(u.difference(1, 'us'))).toBe('1.8 °F');
    expect(plain(u.difference(1, 'metric'))).toBe('1.0 K');
  });
  it('signs what is not nought', () => {
    expect(plain(u.signed(0.5, 'us'))).toBe('+0.9 °F');
    expect(plain(u.signed(-0.5, 'us'))).toBe('-0.9 °F');
    expect(plain(u.signed(0.01, 'us'))).toBe('0.0 °F');
    expect(plain(u.signed(-0.01, 'metric'))).toBe('0.0 K');
  });
  it('writes unknown for what is not known', () => {
    for (const f of [u.temperature, u.difference, u.signed, u.degreesText, u.area, u.waterDepth, u.volume, u.length, u.applicationRate, u.wind]) {
      for (const v of [null, undefined, NaN]) expect(f(v, 'us')).toBe('unknown');
    }
    expect(u.percent(null)).toBe('unknown');
    expect(u.money(null, 'USD')).toBe('unknown');
  });
});

describe('other measures', () => {
  // Definitions: acre 4046.8564224 m2, inch 25.4 mm, US gallon 3.785411784 L.
  it.each([
    [u.area, 0.40468564224, '1.00 ac', '0.40 ha'],
    [u.area, 4.8562277, '12.0 ac', '4.86 ha'],
    [u.waterDepth, 25.4, '1.00 in', '25.4 mm'],
    [u.length, 0.3048, '12.0 in', '30.5 cm'],
    [u.length, 1.8288, '6.0 ft', '1.83 m'],
    [u.volume, 3.785411784, '1,000 gal', '4 m³'],
    [u.volume, 1233.48183754752, '1.00 ac-ft', '1,233 m³'], // one foot over an acre
    [u.wind, 0.44704, '1.0 mph', '0.4 m/s'],
  ])('%o', (f, v, us, metric) => {
    expect(plain(f(v, 'us'))).toBe(us);
    expect(plain(f(v, 'metric'))).toBe(metric);
  });
  // 1 gpm/ac = 3.785411784 L x 60 / 4046.8564224 m2 = 0.056123... mm/h
  it('turns gallons a minute and acre into millimetres an hour', () => {
    expect(plain(u.applicationRate(0.0561239, 'us'))).toBe('1.0 gpm/ac');
    expect(plain(u.applicationRate(2.8, 'metric'))).toBe('2.80 mm/h');
  });
});

describe('shares and money', () => {
  it.each([[0, '0 %'], [0.001, '<1 %'], [0.005, '1 %'], [0.5, '50 %'], [0.994, '99 %'], [0.999, '>99 %'], [1, '100 %']])(
    'a share of %f never looks surer than it is', (v, want) => expect(plain(u.percent(v))).toBe(want));
  it('rounds to the whole unit', () => {
    expect(u.money(1234.5, 'USD')).toMatch(/^\$1,23[45]$/);
    expect(plain(u.money(-12.4, 'USD'))).toBe('-$12');
    expect(plain(u.money(-0.2, 'USD'))).toBe('$0');
    expect(u.money(10, 'no code')).toBe('10');
  });
});

describe('three digits', () => {
  it.each([[1.234, 2, '1.23'], [12.34, 2, '12.3'], [123.4, 2, '123'], [9.996, 2, '10.0'], [-0.001, 2, '0.00']])(
    '%f to %i', (v, max, want) => expect(plain(u.three(v, max))).toBe(want));
});

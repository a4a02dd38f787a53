// Makes the reference grids that physics/air and physics/sky are tested
// against, from two independent packages. It computes nothing of budward's own.
//
//   node generate.mjs           write the grids
//   node generate.mjs --check   fail if a committed grid differs
//
// See SOURCE.md beside each grid for what the columns mean.
import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import psychrolib from 'psychrolib';
import * as astro from 'astronomy-engine';

psychrolib.SetUnitSystem(psychrolib.SI);

/** Moist air: -15..40 degC, 5..100 % RH, 80..103 kPa. */
function moistAir() {
  const lines = ['t_c,rh,p_kpa,vapour_pressure_kpa,dew_or_frost_point_c,wet_or_ice_bulb_c,density_kg_m3'];
  for (let t = -15; t <= 40; t += 2.5) {
    for (const rh of [0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1]) {
      for (const p of [80, 90, 101.325, 103]) {
        const pa = p * 1000;
        const e = psychrolib.GetVapPresFromRelHum(t, rh);
        const w = psychrolib.GetHumRatioFromVapPres(e, pa);
        lines.push([
          t, rh, p, (e / 1000).toFixed(7),
          psychrolib.GetTDewPointFromRelHum(t, rh).toFixed(4),
          psychrolib.GetTWetBulbFromRelHum(t, rh, pa).toFixed(4),
          psychrolib.GetMoistAirDensity(t, w, pa).toFixed(5),
        ].join(','));
      }
    }
  }
  return lines;
}

/** Saturation: over ice at and below 0.01 degC, over water above. */
function saturation() {
  const lines = ['t_c,phase,saturation_kpa'];
  for (let t = -50; t <= 60; t++) {
    lines.push([t, t <= 0 ? 'ice' : 'water', (psychrolib.GetSatVapPres(t) / 1000).toPrecision(8)].join(','));
  }
  return lines;
}

const latitudes = [-55, -45, -34, -20, 0, 16, 27.5, 38.5, 46, 54, 60];
const unix = (date) => (date.getTime() / 1000).toFixed(1);

/** Longitude for row i: a fixed walk over the globe, so that no zone is special. */
const longitudeOf = (i) => ((i * 67) % 360) - 179.5;

/** Local mean noon of day d of the year, as a Date. */
const noonOf = (year, d, lon) => new Date(Date.UTC(year, 0, d, 12) - lon * 240000);

/** Rising and setting, sea level: upper limb, 34' of refraction. */
function riseSet() {
  const lines = ['noon_unix_s,lat_deg,lon_deg,sunrise_unix_s,sunset_unix_s'];
  let i = 0;
  for (const lat of latitudes) {
    for (let d = 3; d <= 366; d += 9) {
      const year = 2024 + (i % 4);
      const lon = longitudeOf(i++);
      const noon = noonOf(year, d, lon);
      const place = new astro.Observer(lat, lon, 0);
      const rise = astro.SearchRiseSet(astro.Body.Sun, place, +1, noon, -1);
      const set = astro.SearchRiseSet(astro.Body.Sun, place, -1, noon, +1);
      if (!rise || !set) throw new Error(`no rising or setting at ${lat} on day ${d}`);
      lines.push([unix(noon), lat, lon, unix(rise.date), unix(set.date)].join(','));
    }
  }
  return lines;
}

/** High latitudes: "up" if the sun never sets, "down" if it never rises, in the 24 h round noon. */
function neverSets() {
  const lines = ['noon_unix_s,lat_deg,lon_deg,stays'];
  let i = 0;
  for (const lat of [-78, -70, 69, 72, 80]) {
    for (let d = 5; d <= 366; d += 10) {
      const lon = longitudeOf(i++);
      const noon = noonOf(2026, d, lon);
      const start = new Date(noon.getTime() - 43200000);
      const place = new astro.Observer(lat, lon, 0);
      const rise = astro.SearchRiseSet(astro.Body.Sun, place, +1, start, +1);
      const set = astro.SearchRiseSet(astro.Body.Sun, place, -1, start, +1);
      if (rise || set) continue;
      lines.push([unix(noon), lat, lon, elevation(place, noon).elevation > 0 ? 'up' : 'down'].join(','));
    }
  }
  return lines;
}

function elevation(place, date) {
  const q = astro.Equator(astro.Body.Sun, date, place, true, true);
  const h = astro.Horizon(date, place, q.ra, q.dec);
  return { elevation: h.altitude, azimuth: h.azimuth, declination: q.dec, distance: q.dist };
}

/** Geometric position of the sun (no refraction) all round the clock and the year. */
function position() {
  const lines = ['unix_s,lat_deg,lon_deg,elevation_deg,azimuth_deg,declination_deg,distance_au'];
  let i = 0;
  for (const lat of [-55, -34, 0, 16, 38.5, 60, 75]) {
    for (let d = 4; d <= 366; d += 5) {
      const lon = longitudeOf(i);
      const date = new Date(Date.UTC(2015 + (i % 20), 0, d, (i * 7) % 24, (i * 13) % 60));
      i++;
      const s = elevation(new astro.Observer(lat, lon, 0), date);
      lines.push([unix(date), lat, lon, s.elevation.toFixed(4), s.azimuth.toFixed(4),
        s.declination.toFixed(4), s.distance.toFixed(6)].join(','));
    }
  }
  return lines;
}

const grids = {
  '../physics/air/testdata/moist_air.csv': moistAir,
  '../physics/air/testdata/saturation.csv': saturation,
  '../physics/sky/testdata/rise_set.csv': riseSet,
  '../physics/sky/testdata/never.csv': neverSets,
  '../physics/sky/testdata/position.csv': position,
};

const check = process.argv.includes('--check');
const unknown = process.argv.slice(2).filter((a) => a !== '--check');
if (unknown.length > 0) {
  console.error(`unknown argument ${unknown.join(' ')}; use --check or nothing`);
  process.exit(2);
}
let failed = false;
for (const [name, make] of Object.entries(grids)) {
  const path = fileURLToPath(new URL(name, import.meta.url));
  const lines = make();
  const text = lines.join('\n') + '\n';
  if (!check) {
    writeFileSync(path, text);
    console.log(`${name}: ${lines.length - 1} rows`);
    continue;
  }
  let have = '';
  try {
    have = readFileSync(path, 'utf8');
  } catch (err) {
    console.error(`${name}: ${err.message}`);
  }
  if (have === text) {
    console.log(`${name}: same, ${lines.length - 1} rows`);
    continue;
  }
  failed = true;
  const old = have.split('\n');
  const at = lines.findIndex((line, n) => line !== old[n]);
  console.error(`${name}: differs from line ${at + 1}: committed ${JSON.stringify(old[at] ?? '')}, made ${JSON.stringify(lines[at] ?? '')}`);
}
process.exit(failed ? 1 : 0);

// A stand-in for the program: the built pages, and answers that the program gave
// (fixtures/), under the program's own headers. What a test wants to go wrong it
// sets on the returned object.
import { createServer } from 'node:http';
import { existsSync, readFileSync, statSync } from 'node:fs';
import { extname, join, normalize } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';

const here = fileURLToPath(new URL('.', import.meta.url));
const dist = join(here, '../dist');
const load = (name) => JSON.parse(readFileSync(join(here, 'fixtures', name), 'utf8'));

const types = {
  '.html': 'text/html; charset=utf-8', '.js': 'text/javascript', '.css': 'text/css', '.svg': 'image/svg+xml',
  '.webmanifest': 'application/manifest+json',
};

/** The strictest policy the pages must live under: nothing inline, nothing from elsewhere. */
export const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; " +
  "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

/** repeated makes an answer for n blocks out of one for a few. */
function repeated(answer, n) {
  const rank = { act: 0, unknown: 1, watch: 2, prepare: 3, quiet: 4 };
  const blocks = Array.from({ length: n }, (_, i) => {
    const b = answer.blocks[i % answer.blocks.length];
    return i < answer.blocks.length ? b : { ...b, block_id: `${b.block_id}-${i}`, name: `${b.name} ${i}` };
  });
  blocks.sort((a, b) => rank[a.urgency] - rank[b.urgency]);
  return { ...answer, blocks };
}

/** shaped gives every block of a farm an outline: invented, in rows either side of lanes. */
function shaped(farm) {
  const metre = 1 / 111_320;
  const squeeze = 1 / Math.cos((farm.lat_deg * Math.PI) / 180);
  const perRow = Math.ceil(Math.sqrt(farm.blocks.length * 1.3));
  const turn = 0.16; // of the whole farm against north
  let y = 0;
  for (let r = 0; r * perRow < farm.blocks.length; r++) {
    const row = farm.blocks.slice(r * perRow, (r + 1) * perRow);
    const deep = 150 + 40 * (r % 3);
    let x = (r % 2) * 60;
    for (const b of row) {
      const wide = (b.area_ha * 1e4) / deep;
      const skew = 14;
      b.polygon = [[x, y], [x + wide, y], [x + wide + skew, y + deep], [x + skew, y + deep], [x, y]].map(([e, n]) => [
        farm.lon_deg + (e * Math.cos(turn) - n * Math.sin(turn)) * metre * squeeze,
        farm.lat_deg + (e * Math.sin(turn) + n * Math.cos(turn)) * metre,
      ]);
      x += wide + 16;
    }
    y += deep + (r % 2 ? 40 : 14);
  }
  return farm;
}

/** late gives a night the readings of its first hours: invented, a little colder
 * than the forecast at first. */
const late = (course) => ({
  ...course,
  observed: course.hours.slice(0, 6).map((h, i) => ({ at: h.at, air_c: h.p50_c - 0.6 + 0.2 * i })),
});

/** troubled makes one station's forecast old, its poller failing, and some items
 * refused: what the demo farm does not show of itself. */
function troubled(feeds, health) {
  const bench = { forecast: 'stale', issued_at: '2026-04-08T02:00:00Z', forecast_age_h: 20 };
  for (const list of [feeds.stations, health.stations]) Object.assign(list.find((s) => s.station_id === 'bench'), bench);
  const url = (id) => `https://forecast.example/${id}/hourly`;
  const poller = { kind: 'forecast', tried_at: '2026-04-08T21:50:00Z', taken_at: '2026-04-08T19:05:00Z', next_at: '2026-04-08T22:20:00Z' };
  feeds.pollers = [
    { ...poller, station_id: 'flat', url: url('flat'), state: 'waiting', failures: 0, problem: '' },
    { ...poller, station_id: 'bench', url: url('bench'), taken_at: '2026-04-08T02:05:00Z', state: 'failing', failures: 6, problem: 'the server answered 503 Service Unavailable' },
  ];
  const { origin } = feeds.feeds[0];
  const broken = { origin, field: 'air_temp', value: '-99.9', why: 'the mark of a broken sensor, not a temperature' };
  Object.assign(feeds.feeds[0], { refused: 3, refusals: [{ ...broken, line: 212 }, { ...broken, line: 213 }, { origin, line: 300, field: 'rh', value: '134', why: 'expected 0 to 100 %' }] });
  Object.assign(health, { status: 'attention', notes: ['The forecast for Bench station is 20 hours old: 6 tries to fetch a newer one failed.'] });
}

export async function serve({ blocks = 0, shapes = true } = {}) {
  const farm = load('farm.json');
  const answers = { us: load('tonight-us.json'), metric: load('tonight-metric.json') };
  if (blocks) {
    for (const u of ['us', 'metric']) answers[u] = repeated(answers[u], blocks);
    const first = [...farm.blocks];
    farm.blocks = answers.us.blocks.map((b) => ({ ...first.find((f) => f.id === b.block_id.split('-')[0]), id: b.block_id, name: b.name }));
  }
  if (shapes) shaped(farm);
  const courses = load('courses.json');
  const s = {
    delay: 0, // ms before an answer of the API
    fail: null, // { status, body } for every question
    refuse: null, // the same for what is sent
    late: false, // courses with readings so far
    sent: [], // what was sent: { method, path, body }
    asked: [], // paths asked for
    answers, farm,
    feeds: load('feeds.json'),
    health: load('health.json'),
    whatif: load('whatif.json'),
  };

  troubled(s.feeds, s.health);

  function compare(id, body) {
    const block = answers.us.blocks.find((b) => b.block_id === id);
    return body.alternatives.map((a, i) => {
      const made = s.whatif[Math.min(i, s.whatif.length - 1)];
      return { label: a.label, night: { ...made.night, label: block?.nights[body.night]?.label ?? made.night.label }, choice: { ...made.choice, label: a.label } };
    });
  }

  function api(method, path, query, body) {
    let m;
    if (path === '/tonight') return answers[query.get('units') ?? 'us'];
    if (path === '/health') return s.health;
    if (path === '/farm') return farm;
    if (path === '/feeds') return s.feeds;
    if ((m = /^\/blocks\/([^/]+)\/course$/.exec(path))) {
      const id = decodeURIComponent(m[1]).split('-')[0];
      const n = Number(query.get('night') ?? 0);
      const c = courses[`${id}/${n}`] ?? courses[`A1/${Math.min(n, 2)}`];
      return s.late ? late(c) : c;
    }
    if ((m = /^\/blocks\/([^/]+)\/whatif$/.exec(path))) return compare(decodeURIComponent(m[1]), body);
    if (method === 'POST' && (m = /^\/blocks\/([^/]+)\/stages$/.exec(path))) {
      return { id: 77, block_id: m[1], at: farm.at, by: body.by, text: '', mixture: { shares: [], at: farm.at, seen_at: farm.at, by: body.by, source: 'judged', counted: 0 } };
    }
    if (method === 'DELETE' && /^\/blocks\/[^/]+\/stages\/\d+$/.test(path)) return null;
    if (method === 'PUT' && (m = /^\/blocks\/([^/]+)\/floor$/.exec(path))) {
      const b = farm.blocks.find((x) => x.id === decodeURIComponent(m[1]));
      farm.revision++;
      return { block_id: b.id, revision: farm.revision, at: farm.at, strips: b.strips, assumed: [] };
    }
    if (method === 'POST' && (m = /^\/feeds\/(\d+)\/withdraw$/.exec(path))) {
      const f = s.feeds.feeds.find((x) => x.id === Number(m[1]));
      Object.assign(f, { withdrawn_at: farm.at, withdrawn_why: body.why });
      return f;
    }
    return undefined;
  }

  function reply(req, res, status, type, bytes, extra = {}) {
    const packed = /gzip/.test(req.headers['accept-encoding'] ?? '') && bytes.length > 500;
    res.writeHead(status, {
      'content-type': type, 'content-security-policy': policy, 'x-content-type-options': 'nosniff', 'referrer-policy': 'no-referrer',
      ...(packed ? { 'content-encoding': 'gzip' } : {}), ...extra,
    });
    res.end(packed ? gzipSync(bytes, { level: 9 }) : bytes);
  }
  const json = (req, res, status, v, type = 'application/json') => reply(req, res, status, type, Buffer.from(JSON.stringify(v)), { 'cache-control': 'no-store' });

  const server = createServer((req, res) => {
    const url = new URL(req.url, 'http://x');
    const chunks = [];
    req.on('data', (c) => chunks.push(c));
    req.on('end', () => {
      if (!url.pathname.startsWith('/api/')) {
        const name = normalize(url.pathname === '/' ? '/index.html' : url.pathname);
        const file = join(dist, name);
        if (!file.startsWith(dist) || !existsSync(file) || !statSync(file).isFile()) return reply(req, res, 404, 'text/plain', Buffer.from('not there'));
        const forever = name.startsWith('/assets/');
        return reply(req, res, 200, types[extname(file)] ?? 'application/octet-stream', readFileSync(file), {
          'cache-control': forever ? 'public, max-age=31536000, immutable' : 'no-cache',
        });
      }
      const path = url.pathname.slice('/api/v1'.length);
      const body = chunks.length ? JSON.parse(Buffer.concat(chunks).toString()) : undefined;
      s.asked.push(path + url.search);
      if (req.method !== 'GET') s.sent.push({ method: req.method, path, body });
      const wrong = s.fail ?? (req.method !== 'GET' && !path.endsWith('/whatif') ? s.refuse : null);
      setTimeout(() => {
        if (wrong) return json(req, res, wrong.status, wrong.body, 'application/problem+json');
        const v = api(req.method, path, url.searchParams, body);
        if (v === undefined) return json(req, res, 404, { title: 'Not there', status: 404, detail: `There is no ${path}.` }, 'application/problem+json');
        if (v === null) { res.writeHead(204); return res.end(); }
        json(req, res, req.method === 'POST' && path.endsWith('/stages') ? 201 : 200, v);
      }, s.delay);
    });
  });
  await new Promise((done) => server.listen(0, '127.0.0.1', done));
  s.port = server.address().port;
  s.base = `http://127.0.0.1:${s.port}/`;
  s.close = () => new Promise((done) => { server.closeAllConnections(); server.close(done); });
  return s;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const s = await serve({ blocks: Number(process.argv[2] ?? 0) });
  console.log(s.base);
}

// Records what the page tests stand on: answers of the program itself, on its demo
// farm. Run `budward demo --no-open --listen 127.0.0.1:8099` and then
// `node tests/record.mjs http://127.0.0.1:8099/`.
import { writeFileSync } from 'node:fs';

const base = process.argv[2];
if (!base) throw new Error('want the address of a running `budward demo`');
const get = async (path, body) => {
  const r = await fetch(base + 'api/v1' + path, body && { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
  if (!r.ok) throw new Error(`${path}: ${r.status} ${await r.text()}`);
  return r.json();
};
const put = (name, value) => writeFileSync(new URL(`fixtures/${name}.json`, import.meta.url), JSON.stringify(value) + '\n');

for (const units of ['us', 'metric']) put(`tonight-${units}`, { ...(await get(`/tonight?units=${units}`)), age_h: 0.1, current: true });
const farm = await get('/farm');
put('farm', { ...farm, defaults: [] }); // two hundred lines that the pages do not show
put('feeds', await get('/feeds'));
put('health', await get('/health'));
const courses = {};
for (const id of ['A1', 'B2', 'E2']) for (let n = 0; n < 3; n++) courses[`${id}/${n}`] = await get(`/blocks/${id}/course?night=${n}`);
put('courses', courses);
put('whatif', await get('/blocks/B2/whatif?units=us', { night: 2, alternatives: [{ label: 'as it is' }, { label: 'with this', run: 'run water tonight', floor: { middle: 'disked 4in' } }] }));

// Without a line, and with a slow one.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { launch, open, ready, violations } from '../browser.mjs';
import { serve } from '../server.mjs';

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser?.close());

const controlled = (page) => page.evaluate(() => navigator.serviceWorker.ready.then(() => (navigator.serviceWorker.controller ? null : new Promise((done) => navigator.serviceWorker.addEventListener('controllerchange', () => done(null))))));

/** kept waits until answers were put by: that is done a moment after they are shown. */
async function kept(page, ...names) {
  const missing = () => page.evaluate(async (want) => {
    const have = (await (await caches.open('budward-kept')).keys()).map((r) => r.url);
    return want.filter((n) => !have.some((u) => u.endsWith('/kept/' + n)));
  }, names);
  for (let i = 0; i < 100 && (await missing()).length; i++) await page.waitForTimeout(50);
  assert.deepEqual(await missing(), []);
}

test('pages open without the program and show how old the answer is', async (t) => {
  const server = await serve();
  t.after(() => server.close());
  const tab = await open(browser, server, {});
  t.after(() => tab.close());
  const { page } = tab;
  await tab.go('tonight');
  await controlled(page);
  await tab.go('block/A1/night');
  await tab.go('farm');
  await kept(page, 'tonight', 'course-A1-0', 'farm');
  const base = server.base;
  await server.close(); // the program is gone

  await page.reload();
  await ready(page);
  await page.getByText('budward cannot be reached.').waitFor();
  const old = page.getByRole('complementary', { name: 'Age of the answer' });
  assert.match(await old.innerText(), /^\d+\smin old/);
  const size = await old.locator('.age').evaluate((e) => Number.parseFloat(getComputedStyle(e).fontSize));
  assert.ok(size >= 36, `its age is written ${size} px large`);
  assert.deepEqual(await violations(page), []);

  await page.goto(base + '#/tonight');
  await ready(page);
  assert.match(await page.locator('h1').innerText(), /need you/);
  await page.goto(base + '#/block/A1/night');
  await page.locator('canvas').waitFor(); // the hours were kept too
  await page.goto(base + '#/nights'); // never opened before: its files are on the device
  await page.getByText('Seven nights, block by block').waitFor();

  await page.goto(base + '#/farm');
  await page.getByRole('button', { name: 'Stage of Far Meadow' }).click();
  await page.getByRole('button', { name: /^four leaves/ }).click();
  await page.getByText('Not saved. The program cannot be reached.').waitFor();
});

test('an answer that was left open grows old in large letters', async (t) => {
  const server = await serve();
  t.after(() => server.close());
  const tab = await open(browser, server, {});
  t.after(() => tab.close());
  const { page } = tab;
  await page.clock.install({ time: new Date('2026-04-08T22:06:00Z') });
  await tab.go('tonight');
  assert.equal(await page.locator('.age').count(), 0);
  server.delay = 3_600_000; // the line is there, nothing comes
  await page.clock.runFor(26 * 60_000);
  await page.locator('.age').waitFor();
  assert.match(await page.locator('.age').innerText(), /^3[0-9]\smin old/); // 6 when it came, and 26
});

test('a slow line shows what is kept at once, then the newer answer', async (t) => {
  const server = await serve();
  t.after(() => server.close());
  const tab = await open(browser, server, {});
  t.after(() => tab.close());
  const { page } = tab;
  await tab.go('tonight');
  await controlled(page);
  await kept(page, 'tonight');
  server.delay = 2500;
  for (const u of ['us', 'metric']) server.answers[u].farm_name = 'Larkmoor the second';
  const start = Date.now();
  await page.reload();
  await ready(page);
  const took = Date.now() - start;
  assert.ok(took < 1500, `the kept answer came after ${took} ms`); // before the line gives anything
  assert.ok(await page.getByText('Larkmoor', { exact: true }).isVisible());
  await page.getByText('Larkmoor the second').waitFor({ timeout: 9000 });
});

test('a first visit over a slow line says what it waits for', async (t) => {
  const server = await serve();
  t.after(() => server.close());
  server.delay = 1500;
  const tab = await open(browser, server, {});
  t.after(() => tab.close());
  await tab.page.goto(server.base);
  await tab.page.getByRole('heading', { name: 'Working out the nights…' }).waitFor();
  await ready(tab.page);
  assert.deepEqual(tab.seen.errors, []);
});

test('the first visit without a program is told so', async (t) => {
  const server = await serve();
  t.after(() => server.close());
  const tab = await open(browser, server, {});
  t.after(() => tab.close());
  await tab.page.route('**/api/**', (r) => r.abort());
  await tab.page.goto(server.base);
  await tab.page.getByText('The program cannot be reached.').waitFor();
  await tab.page.unroute('**/api/**');
  await tab.page.getByRole('button', { name: 'Ask again' }).click();
  await ready(tab.page);
});

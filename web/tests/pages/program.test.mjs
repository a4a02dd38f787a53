// The pages on the program itself and its demo farm, not on recorded answers.
import assert from 'node:assert/strict';
import { execFileSync, spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { after, before, test } from 'node:test';
import { launch, open, violations } from '../browser.mjs';

const top = fileURLToPath(new URL('../../..', import.meta.url));
const go = spawnSync('go', ['version']).status === 0;
const skip = go ? false : 'Go is not there to build the program';
const startWithin = 60_000; // ms

let dir;
let program;
let base;
let browser;

before(async () => {
  if (!go) return;
  dir = mkdtempSync(join(tmpdir(), 'budward-pages-'));
  const binary = join(dir, 'budward');
  execFileSync('go', ['build', '-o', binary, './cmd/budward'], { cwd: top, stdio: 'inherit' });
  program = spawn(binary, ['demo', '--no-open', '--listen', '127.0.0.1:0', '--dir', join(dir, 'demo')]);
  base = await new Promise((found, failed) => {
    let said = '';
    const late = setTimeout(() => failed(new Error(`the program does not say where it is: ${said}`)), startWithin);
    const hear = (b) => {
      said += b;
      const at = /http:\/\/127\.0\.0\.1:\d+\//.exec(said);
      if (at) {
        clearTimeout(late);
        found(at[0]);
      }
    };
    program.stdout.on('data', hear);
    program.stderr.on('data', hear);
    program.on('exit', (code) => failed(new Error(`the program ended with ${code}: ${said}`)));
  });
  browser = await launch();
});
after(async () => {
  await browser?.close();
  program?.kill('SIGINT');
  if (dir) rmSync(dir, { recursive: true, force: true });
});

async function tabOf(t) {
  const tab = await open(browser, { base }, { size: 'desk', light: 'day' });
  t.after(() => tab.close());
  return tab;
}
const clean = (tab) => {
  assert.deepEqual(tab.seen.errors, []);
  assert.deepEqual(tab.seen.foreign, []);
};

test('every page is filled', { skip }, async (t) => {
  const tab = await tabOf(t);
  for (const route of ['tonight', 'nights', 'block/A1/night', 'block/A1/night/2', 'block/A1/worth', 'block/B2/start', 'farm', 'feeds']) {
    await tab.go(route);
    assert.deepEqual(await violations(tab.page), [], route);
    assert.ok(!/undefined|NaN|\[object|null/.test(await tab.page.locator('main').innerText()), `${route} shows a hole`);
  }
  await tab.go('block/A1/night');
  await tab.page.locator('canvas').waitFor();
  clean(tab);
});

test('a worth is worked out', { skip }, async (t) => {
  const tab = await tabOf(t);
  await tab.go('block/B2/worth');
  const box = tab.page.getByRole('region', { name: 'What would it be worth?' });
  for (const [field, value] of [['Floor, middle', 'disked 4in'], ['Moisture, middle', 'wet'], ['Wet the floor', '12'], ['In the night', 'run water tonight']]) {
    await box.getByLabel(field).selectOption(value);
    await tab.page.waitForFunction(() => document.querySelector('.out')?.getAttribute('aria-busy') === 'false');
    await box.getByText('Expected loss').waitFor();
  }
  clean(tab);
});

test('stage, floor and moisture are kept, and taken back', { skip }, async (t) => {
  const tab = await tabOf(t);
  const { page } = tab;
  await tab.go('farm');
  await page.getByRole('button', { name: 'Stage of New Planting' }).click();
  await page.getByRole('button', { name: /^first leaf separated/ }).click();
  await page.getByText('Saved.').waitFor();
  await page.getByRole('button', { name: /^Stage of New Planting.*first leaf separated/ }).waitFor(); // the new answer knows it
  await page.getByRole('button', { name: 'Take back' }).click();
  await page.getByText('Taken back.').waitFor();
  await page.getByRole('button', { name: /^Stage of New Planting.*never looked at/ }).waitFor();

  const floor = () => page.getByRole('button', { name: /^Floor of Far Meadow/ }).innerText();
  const before = await floor();
  await page.getByRole('button', { name: 'Floor of Far Meadow' }).click();
  await page.getByRole('group', { name: /^middle/ }).getByRole('button', { name: 'mown to 2 in' }).click();
  await page.getByText('Saved.').waitFor();
  await page.getByRole('button', { name: /^Floor of Far Meadow.*cover 2 in tall/ }).waitFor();
  await page.getByRole('button', { name: 'Take back' }).click();
  await page.getByText('Taken back.').waitFor();
  await page.waitForFunction((was) => [...document.querySelectorAll('.three button')].some((b) => b.innerText === was), before);

  await page.getByRole('button', { name: 'Moisture of Far Meadow' }).click();
  await page.getByRole('group', { name: /^middle/ }).getByRole('button', { name: 'wet', exact: true }).click();
  await page.getByText('Saved.').waitFor();
  clean(tab);
});

test('a feed is withdrawn and is kept', { skip }, async (t) => {
  const tab = await tabOf(t);
  const { page } = tab;
  await tab.go('feeds');
  const button = page.getByRole('button', { name: /^Withdraw batch/ }).last();
  const name = await button.innerText();
  await button.click();
  await page.getByLabel('Why should it not count?').fill('tried on the page');
  await page.getByRole('button', { name: /^Withdraw batch \d+$/ }).click();
  await page.getByText('counts no longer. It is kept.').waitFor();
  await page.getByText('tried on the page').waitFor();
  assert.ok(name.startsWith('Withdraw'));
  clean(tab);
});

test('what is taken along is there', { skip }, async (t) => {
  const tab = await tabOf(t);
  await tab.go('tonight');
  const links = await tab.page.locator('.files a').evaluateAll((all) => all.map((a) => a.href));
  assert.equal(links.length, 5);
  for (const at of links) {
    const r = await tab.page.request.get(at);
    assert.equal(r.status(), 200, at);
    assert.ok((await r.body()).length > 200, at);
  }
});

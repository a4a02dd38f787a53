// Every screen at both sizes in both lights: what axe finds, contrast, targets,
// errors, requests, width; and the pictures in docs/screenshots.
import assert from 'node:assert/strict';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { after, before, describe, test } from 'node:test';
import { faint, fixtureNow, launch, lights, open, ready, settled, sizes, smallTargets, violations, wide } from '../browser.mjs';
import { decode, different, encode, luminance } from '../png.mjs';
import { serve } from '../server.mjs';

const routes = ['tonight', 'nights', 'block/A1/night', 'block/A1/night/2', 'block/A1/worth', 'block/B2/start', 'block/E2/night', 'farm', 'farm/B1', 'feeds'];
const shots = new URL('../../../docs/screenshots/', import.meta.url);
const kept = {
  'tonight phone night': 'tonight-phone-night', 'tonight desk day': 'tonight-desk-day', 'nights desk night': 'nights-desk-night',
  'block/A1/night phone night': 'block-phone-night', 'block/A1/night desk day': 'block-desk-day', 'block/B2/start desk day': 'start-desk-day',
  'farm phone day': 'farm-phone-day', 'feeds phone day': 'feeds-phone-day',
};
const maxPicture = 150_000; // bytes, so that the project stays light
const blinding = 0.05; // mean luminance of a dark page: a twentieth of a white one's

let browser;
let server;
before(async () => {
  browser = await launch();
  server = await serve();
});
after(async () => {
  await browser?.close();
  await server?.close();
});

/** keep writes a picture where it differs visibly from the one that is there. */
function keep(name, png) {
  const now = decode(png);
  const small = encode(now);
  assert.ok(small.length < maxPicture, `${name}.png has ${small.length} bytes`);
  mkdirSync(shots, { recursive: true });
  const file = new URL(name + '.png', shots);
  if (existsSync(file) && different(decode(readFileSync(file)), now) < 0.002) return;
  writeFileSync(file, small);
}

async function check(page, seen) {
  assert.deepEqual(await violations(page), []);
  assert.deepEqual(await faint(page), []);
  assert.deepEqual(await smallTargets(page), []);
  assert.ok((await wide(page)) <= 0, `wider than the window by ${await wide(page)} px`);
  assert.deepEqual(seen.errors, []);
  assert.deepEqual(seen.foreign, []);
}

for (const size of Object.keys(sizes)) {
  for (const light of lights) {
    describe(`${size}, ${light}`, () => {
      let tab;
      before(async () => {
        tab = await open(browser, server, { size, light });
        await tab.page.clock.setFixedTime(fixtureNow);
      });
      after(() => tab?.close());
      for (const route of routes) {
        test(route, async () => {
          await tab.go(route);
          const png = await tab.page.screenshot();
          if (light === 'night') {
            const bright = luminance(decode(png));
            assert.ok(bright < blinding, `mean luminance ${bright.toFixed(3)}`);
          }
          const name = kept[`${route} ${size} ${light}`];
          if (name) keep(name, png);
          await check(tab.page, tab.seen);
        });
      }
      test('corrections', async () => {
        await tab.go('farm');
        for (const subject of ['Stage', 'Floor', 'Moisture']) {
          await tab.page.getByRole('button', { name: `${subject} of Creek Flat` }).first().click();
          await settled(tab.page);
          await check(tab.page, tab.seen);
          if (subject === 'Stage') {
            await tab.page.getByRole('button', { name: 'More than one stage' }).click();
            await settled(tab.page);
            await check(tab.page, tab.seen);
          }
          await tab.page.keyboard.press('Escape');
        }
      });
      test('everything laid open', async () => {
        await tab.go('tonight');
        await tab.page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)));
        await check(tab.page, tab.seen);
        await tab.go('feeds');
        await tab.page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)));
        await tab.page.getByRole('button', { name: /^Withdraw batch/ }).first().click();
        await check(tab.page, tab.seen);
      });
    });
  }
}

test('metric units', async () => {
  const tab = await open(browser, server, { units: 'metric' });
  for (const route of ['tonight', 'nights', 'block/A1/night', 'block/A1/worth', 'block/B2/start', 'farm', 'feeds']) {
    await tab.go(route);
    const text = await tab.page.locator('main').innerText();
    assert.ok(!/°F|\bmph\b|\bgal\b| in tall|\bac\b/.test(text), `${route} still shows US units: ${/.{20}(°F|\bmph\b|\bgal\b| in tall|\bac\b).{10}/.exec(text)?.[0]}`);
  }
  assert.deepEqual(tab.seen.errors, []);
  await tab.close();
});

test('letters twice as large', async () => {
  const tab = await open(browser, server, {});
  await tab.page.addInitScript(() => addEventListener('DOMContentLoaded', () => (document.documentElement.style.fontSize = '200%')));
  for (const route of ['tonight', 'nights', 'block/A1/night', 'block/B2/start', 'farm', 'feeds']) {
    await tab.go(route);
    assert.ok((await wide(tab.page)) <= 0, `${route}: wider than the window by ${await wide(tab.page)} px`);
  }
  await tab.close();
});

test('on paper', async () => {
  const tab = await open(browser, server, { size: 'desk', light: 'night' });
  await tab.go('tonight');
  await tab.page.emulateMedia({ media: 'print' });
  await tab.page.evaluate(() => dispatchEvent(new Event('beforeprint')));
  await settled(tab.page);
  const answer = server.answers.us;
  const text = await tab.page.locator('main').innerText();
  for (const b of answer.blocks) assert.ok(text.includes(b.name), `${b.name} is missing on paper`);
  const ground = await tab.page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
  assert.equal(ground, 'rgb(255, 255, 255)');
  assert.ok(!(await tab.page.locator('nav').first().isVisible()), 'the navigation is printed');
  const caution = answer.blocks.flatMap((b) => b.choices).find((c) => c.chosen && c.cautions?.length > 3).cautions[3];
  assert.ok(await tab.page.getByText(caution.slice(0, 40)).first().isVisible(), 'a caution is folded away on paper');
  await tab.close();
});

test('a page that was told of trouble', async () => {
  const own = await serve();
  own.fail = { status: 422, body: { title: 'No answer', status: 422, detail: 'No forecast was ever fed.', errors: [] } };
  const tab = await open(browser, own, {});
  await tab.page.goto(own.base);
  await tab.page.getByText('No forecast was ever fed.').waitFor();
  assert.deepEqual(await violations(tab.page), []);
  own.fail = null;
  await tab.page.getByRole('button', { name: 'Ask again' }).click();
  await ready(tab.page);
  assert.ok(await tab.page.getByText('need you').isVisible());
  await tab.close();
  await own.close();
});

// A phone-class device is stood in for by a processor slowed four times. Other work
// on the machine makes a time longer, never shorter: of several tries the shortest
// is the page's own, and the tries end with the first that is short enough.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { launch, open, ready } from '../browser.mjs';
import { serve } from '../server.mjs';

const slowdown = 4;
const firstView = 1000; // ms
const weight = 120_000; // bytes over the wire
const interaction = 100; // ms
const tries = 10;

let browser;
before(async () => {
  browser = await launch();
});
after(() => browser?.close());

async function slowed(page) {
  const cdp = await page.context().newCDPSession(page);
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: slowdown });
  return cdp;
}

test('the first view comes within a second and is light', async () => {
  const server = await serve();
  const times = [];
  for (let i = 0; i < tries && !(Math.min(...times) < firstView); i++) {
    const tab = await open(browser, server, {});
    const { page } = tab;
    const cdp = await slowed(page);
    await cdp.send('Network.enable');
    let bytes = 0;
    cdp.on('Network.loadingFinished', (e) => (bytes += e.encodedDataLength));
    // From the start of the navigation to the end of the frame that shows the answer.
    await page.addInitScript(() => {
      const o = new MutationObserver(() => {
        if (!document.querySelector('.answer h1 .figure')) return;
        o.disconnect();
        requestAnimationFrame(() => {
          const c = new MessageChannel();
          c.port1.onmessage = () => (window.shownAt = performance.now());
          c.port2.postMessage(0);
        });
      });
      o.observe(document, { childList: true, subtree: true });
    });
    await page.goto(server.base, { waitUntil: 'commit' });
    times.push(await (await page.waitForFunction(() => window.shownAt)).jsonValue());
    await page.waitForLoadState('networkidle');
    assert.ok(bytes > 20_000 && bytes < weight, `the first view weighs ${bytes} bytes`);
    await tab.close();
    console.log(`# first view ${Math.round(times.at(-1))} ms, ${bytes} bytes`);
  }
  assert.ok(Math.min(...times) < firstView, `the first view took ${times.map(Math.round)} ms`);
  await server.close();
});

test('five hundred blocks answer a touch within a tenth of a second', async () => {
  const server = await serve({ blocks: 500 });
  const tab = await open(browser, server, {});
  const { page } = tab;
  await tab.go('tonight');
  await slowed(page);
  /** timed tries a deed, from the event to the frame that shows what it led to; each
   * try begins when the page is at rest. */
  const timed = async (what, deed) => {
    const took = [];
    for (let i = 0; i < tries && !(i > 1 && Math.min(...took) < interaction); i++) {
      await page.waitForLoadState('networkidle');
      await page.waitForTimeout(600);
      took.push(await deed(i));
    }
    console.log(`# ${what}: ${took.map(Math.round).join(', ')} ms`);
    assert.ok(Math.min(...took) < interaction, `${what} took ${took.map(Math.round)} ms`);
  };
  /** from runs a deed and waits until a selector is there and a frame was drawn. */
  const from = (deed, arg, shows = 'main') => page.evaluate(async ([d, a, s]) => {
    const start = performance.now();
    new Function('arg', d)(a);
    while (!document.querySelector(s)) await new Promise((done) => setTimeout(done));
    return new Promise((done) => requestAnimationFrame(() => {
      const c = new MessageChannel();
      c.port1.onmessage = () => done(performance.now() - start);
      c.port2.postMessage(0);
    }));
  }, [deed, arg, shows]);
  const click = (selector, shows) => from('document.querySelector(arg).click()', selector, shows);
  const nodes = await page.evaluate(() => document.querySelectorAll('*').length);
  console.log(`# ${nodes} elements on tonight`);
  assert.ok(nodes < 3000, `${nodes} elements`);
  await timed('light', () => click('header button:last-of-type'));
  await timed('units', () => click('header button:first-of-type'));
  const find = "const el = document.querySelector('input[type=search]'); el.value = arg; el.dispatchEvent(new Event('input', { bubbles: true }))";
  await timed('find', (i) => from(find, ['creek', 'far', 'bench top 4', ''][i % 4]));
  await timed('scroll', () => from('scrollBy(0, 6000)'));
  for (const name of ['nights', 'farm', 'feeds', 'tonight']) {
    await page.evaluate((n) => { location.hash = `#/${n}`; }, name); // the files of the page are fetched once
    await ready(page);
  }
  await timed('nights', async () => {
    const t = await click('nav a[href="#/nights"]', '.week');
    await click('nav a[href="#/tonight"]');
    await ready(page);
    return t;
  });
  await timed('a block', async () => {
    await page.locator('.task a.to').first().waitFor();
    const t = await click('.task a.to', '.stand');
    await click('nav a[href="#/tonight"]');
    await ready(page);
    return t;
  });
  await page.evaluate(() => { location.hash = '#/farm'; });
  await ready(page);
  await timed('a correction', async () => {
    await page.locator('.three button').first().waitFor();
    const t = await click('.three button', 'dialog[open] .options');
    await page.keyboard.press('Escape');
    return t;
  });
  assert.deepEqual(tab.seen.errors, []);
  await tab.close();
  await server.close();
});

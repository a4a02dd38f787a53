// A browser for the page tests, and what every page is held to while it is open:
// no error, and no request to any other host.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { chromium } from 'playwright-core';

const require = createRequire(import.meta.url);
const axe = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

export const sizes = { phone: { width: 360, height: 740 }, desk: { width: 1280, height: 800 } };
export const lights = ['day', 'night'];
/** Six minutes after the answer of the fixtures was worked out, as its age says. */
export const fixtureNow = new Date('2026-04-08T22:06:00Z');

const executablePath = process.env.CHROMIUM ?? '/usr/bin/chromium';
const flags = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync', '--force-color-profile=srgb'];

export const launch = () => chromium.launch({ executablePath, args: flags });

/** open gives a page of its own: nothing kept from others. */
export async function open(browser, server, { size = 'phone', light = 'night', by = 'Mara', units = '', reduced = true } = {}) {
  const context = await browser.newContext({
    viewport: sizes[size], hasTouch: size === 'phone', isMobile: size === 'phone', reducedMotion: reduced ? 'reduce' : 'no-preference', locale: 'en-US',
    timezoneId: 'Asia/Kolkata', // the device is set to another zone than the farm
  });
  const page = await context.newPage();
  const seen = { errors: [], foreign: [] };
  page.on('console', (m) => m.type() === 'error' && seen.errors.push(m.text()));
  page.on('pageerror', (e) => seen.errors.push(e.message));
  context.on('request', (r) => {
    if (!r.url().startsWith(server.base) && !/^(data|blob):/.test(r.url())) seen.foreign.push(r.url());
  });
  await context.addInitScript(([l, b, u]) => {
    const put = (k, v) => v && !localStorage.getItem(k) && localStorage.setItem(k, v);
    put('budward.light', l);
    put('budward.by', b);
    put('budward.units', u);
  }, [light, by, units]);
  const go = async (route) => {
    await page.goto(server.base + '#/' + route);
    await ready(page);
  };
  return { context, page, seen, go, close: () => context.close() };
}

/** ready waits until a page shows what it came for. */
export async function ready(page) {
  await page.waitForFunction(() => {
    const h = document.querySelector('main h1');
    return h && !/…$/.test(h.textContent.trim()) && !document.querySelector('.wait.soft, [data-more]');
  });
  await settled(page);
}

/** settled waits for two frames: what was asked for is drawn. */
export const settled = (page) => page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));

/** violations of the rules of axe, in lines. */
export async function violations(page) {
  await page.evaluate(axe);
  const r = await page.evaluate(() => window.axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }));
  return r.violations.map((v) => `${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.target.join(' ') + ' ' + (n.any[0]?.message ?? '')).join(' | ')}`);
}

/** smallTargets lists what is to be touched and is smaller than 44 by 44 px. Links
 * inside a sentence may be lower, if a finger cannot miss: 24 px (WCAG 2.5.8). */
export const smallTargets = (page) =>
  page.evaluate(() => {
    const out = [];
    for (const el of document.querySelectorAll('a[href], button, select, input, summary')) {
      if (el.closest('.skip, svg') || !el.checkVisibility({ visibilityProperty: true }) || el.classList.contains('skip')) continue;
      const r = el.getBoundingClientRect();
      if (!r.width) continue;
      const inSentence = el.tagName === 'A' && el.parentElement.tagName === 'P' && el.parentElement.textContent.trim() !== el.textContent.trim();
      const least = inSentence ? 24 : 44;
      if (r.height < least - 0.5 || (r.width < least - 0.5 && !(el.closest('.week, .nights')))) {
        out.push(`${el.tagName} "${(el.getAttribute('aria-label') ?? el.textContent).trim().slice(0, 40)}" ${r.width.toFixed(0)} x ${r.height.toFixed(0)}`);
      }
    }
    return out;
  });

/** faint lists texts with a contrast below 4.5 (3 for large ones), worked out by
 * WCAG's formula from the colours the browser used, SVG texts too. */
export const faint = (page) =>
  page.evaluate(() => {
    const canvas = new OffscreenCanvas(1, 1).getContext('2d', { willReadFrequently: true });
    const rgba = (css) => {
      canvas.clearRect(0, 0, 1, 1);
      canvas.fillStyle = css;
      canvas.fillRect(0, 0, 1, 1);
      return [...canvas.getImageData(0, 0, 1, 1).data];
    };
    const lum = ([r, g, b]) => [r, g, b].map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
      .reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
    const ground = (el) => {
      for (let e = el; e; e = e.parentElement) {
        const c = rgba(getComputedStyle(e).backgroundColor);
        if (c[3] > 250) return c;
      }
      return rgba('#fff');
    };
    const out = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let t = walk.nextNode(); t; t = walk.nextNode()) {
      const el = t.parentElement;
      if (!t.textContent.trim() || !el.checkVisibility() || el.closest('script, style, .alone')) continue;
      if (el.closest('button:disabled')) continue; // exempt: WCAG 1.4.3, inactive
      const s = getComputedStyle(el);
      const svg = el instanceof SVGElement;
      const a = lum(rgba(svg ? s.fill : s.color));
      const disc = svg && el.previousElementSibling?.tagName === 'circle' ? el.previousElementSibling : null; // a number on a disc
      const b = lum(disc ? rgba(getComputedStyle(disc).fill) : ground(svg ? el.closest('svg').parentElement : el));
      const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      const px = Number.parseFloat(s.fontSize);
      const large = px >= 24 || (px >= 18.66 && Number(s.fontWeight) >= 700);
      if (ratio < (large ? 3 : 4.5)) out.push(`"${t.textContent.trim().slice(0, 30)}" ${ratio.toFixed(2)}`);
    }
    return out;
  });

/** wide says how far a page is wider than its window, px. */
export const wide = (page) => page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);

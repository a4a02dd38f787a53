// The night as a chart: the band of eight forecasts in ten, the middle, what was
// read so far, where a tenth and where half dies. Colours are read from the page,
// so that both lights and the printer have theirs.

import uPlot from 'uplot';
import type { Course } from '../types';
import { clock, dayClock } from './time';
import { degrees, degreeUnit, type System } from './units';

export interface Row {
  at: number; // Unix seconds
  low: number | null;
  mid: number | null;
  high: number | null;
  seen: number | null;
}

/** rows joins forecast and readings on one line of times. */
export function rows(c: Course, u: System): Row[] {
  const by = new Map<number, Row>();
  const row = (at: string): Row => {
    const t = Math.round(new Date(at).getTime() / 1000);
    let r = by.get(t);
    if (!r) by.set(t, (r = { at: t, low: null, mid: null, high: null, seen: null }));
    return r;
  };
  for (const h of c.hours) {
    Object.assign(row(h.at), { low: degrees(h.p10_c, u), mid: degrees(h.p50_c, u), high: degrees(h.p90_c, u) });
  }
  for (const o of c.observed) row(o.at).seen = degrees(o.air_c, u);
  return [...by.values()].sort((a, b) => a.at - b.at);
}

interface Look {
  units: System;
  zone: string;
  now: number; // Unix ms
  onRow: (i: number | null) => void;
}

/** draw makes the chart in el; call the result's destroy when done. */
export function draw(el: HTMLElement, c: Course, all: Row[], look: Look): uPlot {
  const style = getComputedStyle(el);
  const ink = (name: string) => style.getPropertyValue(name).trim();
  const font = `14px ${style.fontFamily}`;
  const lines = [c.critical_t10_c, c.critical_t50_c].map((v) => (v === null ? null : degrees(v, look.units)));
  const column = (k: keyof Row) => all.map((r) => r[k]);
  const data = [column('at'), column('low'), column('high'), column('mid'), column('seen')] as uPlot.AlignedData;
  const unit = degreeUnit(look.units);

  const axis = { stroke: ink('--soft'), font, ticks: { stroke: ink('--line'), width: 1 }, grid: { stroke: ink('--line'), width: 1 } };
  const options: uPlot.Options = {
    width: el.clientWidth,
    height: el.clientWidth < 500 ? 300 : 360,
    legend: { show: false },
    cursor: { y: false, drag: { x: false, y: false }, points: { show: false } },
    padding: [14, 12, 0, 0],
    scales: { x: { time: true }, y: { range: (_u, lo, hi) => around(lo, hi, lines) } },
    bands: [{ series: [2, 1], fill: ink('--band') }],
    axes: [
      { ...axis, space: 52, size: 34, values: (_u, at) => at.map((t) => clock(t * 1000, look.zone)) },
      { ...axis, size: 46, space: 34, values: (_u, at) => at.map((v) => String(v).replace('-', '\u2212')) },
    ],
    series: [
      {},
      { stroke: ink('--edge'), width: 1, points: { show: false } },
      { stroke: ink('--edge'), width: 1, points: { show: false } },
      { stroke: ink('--ink'), width: 3, points: { show: false }, spanGaps: true },
      { stroke: ink('--seen'), width: 2, dash: [2, 4], spanGaps: false, points: { show: true, size: 8, width: 2, stroke: ink('--seen'), fill: ink('--ground') } },
    ],
    hooks: {
      draw: [(u) => marks(u, lines, unit, look, ink, font)],
      setCursor: [(u) => look.onRow(u.cursor.idx ?? null)],
    },
  };
  return new uPlot(options, data, el);
}

function around(lo: number, hi: number, lines: (number | null)[]): [number, number] {
  const all = [lo, hi, ...lines].filter((v): v is number => v !== null && Number.isFinite(v));
  if (!all.length) return [0, 1];
  const a = Math.min(...all);
  const b = Math.max(...all);
  const room = Math.max(0.5, (b - a) * 0.08);
  return [a - room, b + room];
}

function marks(u: uPlot, lines: (number | null)[], unit: string, look: Look, ink: (n: string) => string, font: string): void {
  const { ctx } = u;
  const { left, top, width, height } = u.bbox;
  const px = devicePixelRatio || 1;
  ctx.save();
  ctx.beginPath();
  ctx.rect(left, top, width, height);
  ctx.clip();
  ctx.font = font.replace(/^(\d+)px/, (_, n: string) => `${Number(n) * px}px`);
  ['a tenth dies', 'half dies'].forEach((words, i) => {
    const v = lines[i];
    if (v === null || v === undefined) return;
    const y = u.valToPos(v, 'y', true);
    ctx.strokeStyle = ink('--cold');
    ctx.lineWidth = (i ? 1.5 : 3) * px;
    ctx.setLineDash(i ? [6 * px, 5 * px] : []);
    ctx.beginPath();
    ctx.moveTo(left, y);
    ctx.lineTo(left + width, y);
    ctx.stroke();
    label(ctx, `${words} ${v.toFixed(1).replace('-', '\u2212')} ${unit}`, left + 6 * px, y + (i ? 15 : -7) * px, ink);
  });
  const x = u.valToPos(look.now / 1000, 'x', true);
  if (x > left && x < left + width) {
    ctx.strokeStyle = ink('--ink');
    ctx.lineWidth = 1.5 * px;
    ctx.setLineDash([2 * px, 3 * px]);
    ctx.beginPath();
    ctx.moveTo(x, top);
    ctx.lineTo(x, top + height);
    ctx.stroke();
    label(ctx, 'now', Math.min(x + 5 * px, left + width - 34 * px), top + 14 * px, ink);
  }
  ctx.restore();
}

// A word on the chart keeps a rim of the ground, to be read over any line.
function label(ctx: CanvasRenderingContext2D, text: string, x: number, y: number, ink: (n: string) => string): void {
  ctx.setLineDash([]);
  ctx.textAlign = 'left';
  ctx.textBaseline = 'alphabetic';
  ctx.lineJoin = 'round';
  ctx.strokeStyle = ink('--ground');
  ctx.lineWidth = 5 * (devicePixelRatio || 1);
  ctx.strokeText(text, x, y);
  ctx.fillStyle = ink('--ink');
  ctx.fillText(text, x, y);
}

/** said is one row in words, for the line under the chart. */
export function said(r: Row, zone: string, u: System): string {
  const n = (v: number | null) => (v === null ? '' : v.toFixed(1).replace('-', '\u2212'));
  const unit = degreeUnit(u);
  const parts = [];
  if (r.seen !== null) parts.push(`read ${n(r.seen)} ${unit}`);
  if (r.mid !== null) parts.push(`forecast ${n(r.mid)} ${unit} (${n(r.low)} to ${n(r.high)})`);
  return `${dayClock(r.at * 1000, zone)}: ${parts.join('; ')}`;
}

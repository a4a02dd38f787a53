// The farm seen from above: degrees to metres on a plane about its middle, which
// over a farm's few kilometres is true to better than a thousandth.

type Ring = [number, number][];

const metresPerDegree = 111_320; // of latitude, mean

export interface Shape {
  id: string;
  path: string;
  x: number; // where its name stands
  y: number;
  room: number; // width there
}

export interface Plan {
  width: number;
  height: number;
  shapes: Shape[];
  metre: number; // length of one metre on the plan
}

/** plan lays outlines (lon, lat) out to a given width; north is up. */
export function plan(blocks: { id: string; polygon?: number[][] | null }[], width: number, most: number): Plan | null {
  const known = blocks.map((b) => ({ id: b.id, ring: ringOf(b.polygon) })).filter((b) => b.ring.length >= 3);
  if (!known.length) return null;
  let [w, s, e, n] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const b of known) {
    for (const [lon, lat] of b.ring) {
      w = Math.min(w, lon);
      e = Math.max(e, lon);
      s = Math.min(s, lat);
      n = Math.max(n, lat);
    }
  }
  const squeeze = Math.cos((((s + n) / 2) * Math.PI) / 180);
  const across = Math.max((e - w) * squeeze * metresPerDegree, 1);
  const up = Math.max((n - s) * metresPerDegree, 1);
  const edge = 6;
  const metre = Math.min((width - 2 * edge) / across, (most - 2 * edge) / up);
  const left = (width - across * metre) / 2;
  const point = ([lon, lat]: [number, number]): [number, number] => [
    left + (lon - w) * squeeze * metresPerDegree * metre,
    edge + (n - lat) * metresPerDegree * metre,
  ];
  const shapes = known.map((b) => {
    const ring = b.ring.map(point);
    const [x, y] = middle(ring);
    return { id: b.id, path: 'M' + ring.map((p) => p.map((v) => v.toFixed(1)).join(' ')).join('L') + 'Z', x, y, room: widthAt(ring, y) };
  });
  return { width, height: up * metre + 2 * edge, shapes, metre };
}

const ringOf = (p: number[][] | null | undefined): Ring =>
  (p ?? []).flatMap(([lon, lat]) => (lon !== undefined && lat !== undefined ? [[lon, lat] as [number, number]] : []));

/** middle is the centre of area of a ring; of its points where it has none. */
export function middle(ring: Ring): [number, number] {
  let a = 0;
  let x = 0;
  let y = 0;
  for (let i = 0; i < ring.length; i++) {
    const [x0, y0] = ring[i]!;
    const [x1, y1] = ring[(i + 1) % ring.length]!;
    const cross = x0 * y1 - x1 * y0;
    a += cross;
    x += (x0 + x1) * cross;
    y += (y0 + y1) * cross;
  }
  if (Math.abs(a) < 1e-9) {
    const sum = ring.reduce((t, p) => [t[0] + p[0], t[1] + p[1]] as [number, number], [0, 0] as [number, number]);
    return [sum[0] / ring.length, sum[1] / ring.length];
  }
  return [x / (3 * a), y / (3 * a)];
}

function widthAt(ring: Ring, y: number): number {
  const xs: number[] = [];
  for (let i = 0; i < ring.length; i++) {
    const [x0, y0] = ring[i]!;
    const [x1, y1] = ring[(i + 1) % ring.length]!;
    if (y0 > y !== y1 > y) xs.push(x0 + ((y - y0) / (y1 - y0)) * (x1 - x0));
  }
  return xs.length < 2 ? 0 : Math.max(...xs) - Math.min(...xs);
}

/** nearest is the shape that lies next in a direction from another. */
export function nearest(shapes: Shape[], from: Shape, dx: number, dy: number): Shape | null {
  let best: Shape | null = null;
  let least = Infinity;
  for (const s of shapes) {
    const ahead = (s.x - from.x) * dx + (s.y - from.y) * dy;
    const aside = Math.abs((s.x - from.x) * dy) + Math.abs((s.y - from.y) * dx);
    if (s === from || ahead <= 1) continue;
    const cost = ahead + 2 * aside;
    if (cost < least) {
      least = cost;
      best = s;
    }
  }
  return best;
}

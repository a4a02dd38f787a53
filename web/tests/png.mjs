// Pictures of the pages: reading a PNG of the browser into pixels, and writing it
// again with a palette, which a page of few colours needs no more than.
import { crc32, deflateSync, inflateSync } from 'node:zlib';

const signature = Buffer.from([137, 80, 78, 71, 13, 10, 26, 10]);

/** decode reads an 8-bit RGB or RGBA PNG: { width, height, pixels: RGB }. */
export function decode(png) {
  if (!png.subarray(0, 8).equals(signature)) throw new Error('not a PNG');
  let at = 8;
  let head;
  const data = [];
  while (at < png.length) {
    const length = png.readUInt32BE(at);
    const type = png.toString('latin1', at + 4, at + 8);
    const body = png.subarray(at + 8, at + 8 + length);
    if (type === 'IHDR') head = { width: body.readUInt32BE(0), height: body.readUInt32BE(4), depth: body[8], colour: body[9], interlace: body[12] };
    if (type === 'PLTE') head.palette = body;
    if (type === 'IDAT') data.push(body);
    at += 12 + length;
  }
  const { width, height, colour } = head;
  const per = { 2: 3, 6: 4, 3: 1 }[colour];
  if (!per || head.depth !== 8 || head.interlace) throw new Error('a PNG of another kind');
  const raw = inflateSync(Buffer.concat(data));
  const line = width * per;
  const out = Buffer.alloc(line * height);
  for (let y = 0; y < height; y++) unfilter(raw, y * (line + 1), out, y * line, line, per, y > 0);
  const pixels = Buffer.alloc(width * height * 3);
  for (let i = 0; i < width * height; i++) {
    if (per === 1) head.palette.copy(pixels, i * 3, out[i] * 3, out[i] * 3 + 3);
    else out.copy(pixels, i * 3, i * per, i * per + 3);
  }
  return { width, height, pixels };
}

function unfilter(raw, from, out, to, line, per, above) {
  const kind = raw[from];
  for (let x = 0; x < line; x++) {
    const a = x >= per ? out[to + x - per] : 0;
    const b = above ? out[to + x - line] : 0;
    const c = above && x >= per ? out[to + x - line - per] : 0;
    let p = 0;
    if (kind === 1) p = a;
    else if (kind === 2) p = b;
    else if (kind === 3) p = (a + b) >> 1;
    else if (kind === 4) {
      const [pa, pb, pc] = [Math.abs(b - c), Math.abs(a - c), Math.abs(a + b - 2 * c)];
      p = pa <= pb && pa <= pc ? a : pb <= pc ? b : c;
    }
    out[to + x] = (raw[from + 1 + x] + p) & 255;
  }
}

/** encode writes pixels with a palette; colours are rounded until 256 are enough. */
export function encode({ width, height, pixels }) {
  for (let bits = 0; ; bits++) {
    const round = (v) => Math.min(255, Math.round(v / (1 << bits)) << bits);
    const index = new Map();
    const rows = Buffer.alloc((width + 1) * height);
    let fits = true;
    for (let i = 0; fits && i < width * height; i++) {
      const key = (round(pixels[i * 3]) << 16) | (round(pixels[i * 3 + 1]) << 8) | round(pixels[i * 3 + 2]);
      let n = index.get(key);
      if (n === undefined) {
        if (index.size === 256) fits = false;
        index.set(key, (n = index.size));
      }
      rows[Math.floor(i / width) * (width + 1) + 1 + (i % width)] = n;
    }
    if (!fits) continue;
    const palette = Buffer.from([...index.keys()].flatMap((k) => [(k >> 16) & 255, (k >> 8) & 255, k & 255]));
    const head = Buffer.alloc(13);
    head.writeUInt32BE(width, 0);
    head.writeUInt32BE(height, 4);
    head.set([8, 3, 0, 0, 0], 8);
    return Buffer.concat([signature, chunk('IHDR', head), chunk('PLTE', palette), chunk('IDAT', deflateSync(rows, { level: 9, memLevel: 9 })), chunk('IEND', Buffer.alloc(0))]);
  }
}

function chunk(type, body) {
  const out = Buffer.alloc(12 + body.length);
  out.writeUInt32BE(body.length, 0);
  out.write(type, 4, 'latin1');
  body.copy(out, 8);
  out.writeUInt32BE(crc32(out.subarray(4, 8 + body.length)), 8 + body.length);
  return out;
}

/** luminance is the mean relative luminance of a picture, 0 black to 1 white. */
export function luminance({ pixels }) {
  const linear = Array.from({ length: 256 }, (_, v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4));
  let sum = 0;
  for (let i = 0; i < pixels.length; i += 3) sum += 0.2126 * linear[pixels[i]] + 0.7152 * linear[pixels[i + 1]] + 0.0722 * linear[pixels[i + 2]];
  return sum / (pixels.length / 3);
}

/** different is the share of pixels that differ by more than a shade. */
export function different(a, b) {
  if (a.width !== b.width || a.height !== b.height) return 1;
  let n = 0;
  for (let i = 0; i < a.pixels.length; i += 3) {
    if (Math.abs(a.pixels[i] - b.pixels[i]) + Math.abs(a.pixels[i + 1] - b.pixels[i + 1]) + Math.abs(a.pixels[i + 2] - b.pixels[i + 2]) > 60) n++;
  }
  return n / (a.pixels.length / 3);
}

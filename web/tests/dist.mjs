// The built files that are committed are those the source gives, byte for byte,
// and two builds of one source are alike.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';

const top = fileURLToPath(new URL('..', import.meta.url));
const work = mkdtempSync(join(tmpdir(), 'budward-dist-'));

function build(name) {
  const out = join(work, name);
  execFileSync(process.execPath, [join(top, 'node_modules/vite/bin/vite.js'), 'build', '--outDir', out, '--emptyOutDir', '--logLevel', 'error'], { cwd: top, stdio: 'inherit' });
  return out;
}

function files(dir, at = dir) {
  return readdirSync(at).flatMap((n) => (statSync(join(at, n)).isDirectory() ? files(dir, join(at, n)) : [relative(dir, join(at, n))])).sort();
}

function differences(a, b) {
  const out = [];
  for (const name of new Set([...files(a), ...files(b)])) {
    const read = (d) => {
      try {
        return readFileSync(join(d, name));
      } catch {
        return null;
      }
    };
    const [x, y] = [read(a), read(b)];
    if (!x || !y) out.push(`${name} is in one of them only`);
    else if (!x.equals(y)) out.push(`${name} differs`);
  }
  return out;
}

try {
  const one = build('one');
  const two = build('two');
  const unlike = differences(one, two);
  const stale = differences(one, join(top, 'dist'));
  for (const d of unlike) console.error(`two builds: ${d}`);
  for (const d of stale) console.error(`dist is not what the source gives: ${d}`);
  if (unlike.length || stale.length) {
    if (stale.length) console.error('run npm run build and commit dist');
    process.exitCode = 1;
  } else console.log(`dist: ${files(one).length} files, as the source gives them`);
} finally {
  rmSync(work, { recursive: true, force: true });
}

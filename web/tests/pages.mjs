// Runs the page tests, one file after the other: times are measured in them.
import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

const chromium = process.env.CHROMIUM ?? '/usr/bin/chromium';
if (!existsSync(chromium)) {
  console.error(`The page tests want Chromium, and ${chromium} is not there: apt-get install -y --no-install-recommends chromium fonts-noto-core, or set CHROMIUM.`);
  process.exit(1);
}
const dir = fileURLToPath(new URL('pages/', import.meta.url));
// Times depend on the machine and what else it does: `npm run speed` measures them.
const wanted = process.argv.length > 2 ? process.argv.slice(2) : ['work', 'offline', 'program', 'screens'];
const files = wanted.map((n) => `${dir}${n}.test.mjs`);
const r = spawnSync(process.execPath, ['--test', '--test-concurrency=1', '--test-timeout=240000', '--test-force-exit', '--test-reporter=spec', ...files], { stdio: 'inherit' });
process.exit(r.status ?? 1);

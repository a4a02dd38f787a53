import { createHash } from 'node:crypto';
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig, type Plugin } from 'vite';

// shell writes the list of built files, and a version made of their contents,
// into the service worker. The same source gives the same bytes.
function shell(): Plugin {
  return {
    name: 'budward-shell',
    enforce: 'post',
    generateBundle(_, bundle) {
      const worker = bundle['sw.js'];
      if (worker?.type !== 'chunk') throw new Error('sw.js was not built');
      const hash = createHash('sha256');
      const files: string[] = [];
      for (const name of Object.keys(bundle).sort()) {
        const item = bundle[name]!;
        if (name === 'sw.js') continue;
        files.push(name);
        hash.update(name).update(item.type === 'chunk' ? item.code : item.source);
      }
      hash.update(worker.code);
      const put = (mark: string, value: string) => {
        if (!worker.code.includes(mark)) throw new Error(`sw.js lacks ${mark}`);
        worker.code = worker.code.replace(mark, value);
      };
      // Files of public/ are copied beside the bundle; they are few and named here.
      files.push("icon.svg", "manifest.webmanifest");
      put("__FILES__", files.filter((f) => f !== 'index.html').join(' '));
      put('__VERSION__', hash.digest('hex').slice(0, 16));
    },
  };
}

export default defineConfig({
  base: './',
  plugins: [svelte(), shell()],
  build: {
    target: 'es2022',
    modulePreload: { polyfill: false },
    assetsInlineLimit: 0,
    reportCompressedSize: false,
    rollupOptions: {
      input: { main: 'index.html', sw: 'src/sw.ts' },
      output: {
        entryFileNames: (c) => (c.name === 'sw' ? 'sw.js' : 'assets/[name]-[hash].js'),
        chunkFileNames: 'assets/[name]-[hash].js',
        assetFileNames: 'assets/[name]-[hash][extname]',
      },
    },
  },
  server: { proxy: { '/api': 'http://127.0.0.1:8099' } },
  test: { include: ['src/**/*.test.ts'], environment: 'node' },
} as Parameters<typeof defineConfig>[0]);

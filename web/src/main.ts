import './app.css';
import { mount } from 'svelte';
import App from './App.svelte';
import { app } from './lib/state.svelte';

app.start(); // the question is on its way while the page is built
mount(App, { target: document.getElementById('app')! });

if ('serviceWorker' in navigator && import.meta.env.PROD) {
  addEventListener('load', () => {
    navigator.serviceWorker.register('./sw.js').catch(() => {
      // no offline start then; the pages work all the same
    });
  });
}

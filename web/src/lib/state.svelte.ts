// What every page shares: how the person wants to read, the answer at hand and
// how old it is, and the present moment as the program sees it.

import type { Answer, Farm, FeedList, Health } from '../types';
import { ask, askOrKept, kept, Trouble, type Kept } from './client';
import type { System } from './units';

export type Light = 'sun' | 'day' | 'night';

const refreshEvery = 5 * 60_000;
/** Beyond this the age of an answer is shown in large type. */
export const staleAfter = 20 * 60_000;
const tick = 30_000;
const nightsAhead = 7;

function stored(key: string): string {
  try {
    return localStorage.getItem('budward.' + key) ?? '';
  } catch {
    return ''; // storage refused: choices last as long as the page
  }
}

function store(key: string, value: string): void {
  try {
    localStorage.setItem('budward.' + key, value);
  } catch {
    // as above
  }
}

const oneOf = <T extends string>(v: string, of: readonly T[]): T | null => of.find((x) => x === v) ?? null;

class App {
  light = $state<Light>(oneOf(stored('light'), ['sun', 'day', 'night']) ?? 'sun');
  chosenUnits = $state<System | null>(oneOf(stored('units'), ['us', 'metric']));
  by = $state(stored('by'));

  answer = $state.raw<Answer | null>(null);
  answerAt = $state(0); // when it came from the program, by this device's clock
  loading = $state(false);
  trouble = $state<Trouble | null>(null); // of the last try
  reached = $state(true); // the last try got through
  health = $state.raw<Health | null>(null);
  farm = $state.raw<Farm | null>(null);
  feeds = $state.raw<FeedList | null>(null);
  device = $state(Date.now());

  units = $derived<System>(this.chosenUnits ?? this.answer?.units ?? 'us');
  zone = $derived(this.answer?.zone ?? this.farm?.zone ?? 'UTC');
  currency = $derived(this.answer?.currency ?? this.farm?.currency ?? '');
  /** The present moment on the program's clock, which may not be this device's. */
  now = $derived(
    this.answer
      ? new Date(this.answer.at).getTime() + this.answer.age_h * 3_600_000 + Math.max(0, this.device - this.answerAt)
      : this.device,
  );
  /** How long since the answer came, and since it was worked out. */
  age = $derived(this.answer ? Math.max(0, this.device - this.answerAt) + this.answer.age_h * 3_600_000 : 0);
  stale = $derived(this.answer !== null && (this.age > 60 * 60_000 + staleAfter || this.device - this.answerAt > staleAfter));
  dark = $derived.by(() => {
    if (this.light !== 'sun') return this.light === 'night';
    const n = this.answer?.nights[0];
    if (!n) return true;
    return this.now >= new Date(n.sunset_at).getTime() && this.now < new Date(n.sunrise_at).getTime();
  });

  setLight(v: Light): void {
    this.light = v;
    store('light', v);
  }

  setUnits(v: System): void {
    this.chosenUnits = v;
    store('units', v);
    void this.refresh(); // the sentences come in these units too
  }

  setBy(v: string): void {
    this.by = v;
    store('by', v);
  }

  private take(a: Kept<Answer>): void {
    if (a.at < this.answerAt) return;
    this.answer = a.value;
    this.answerAt = a.at;
    this.device = Math.max(Date.now(), a.at);
  }

  /** start shows what was kept, asks for better, and goes on asking. */
  start(): void {
    void this.showKept();
    void this.refresh();
    const again = () => {
      this.device = Date.now();
      if (!document.hidden) void this.refresh();
    };
    setInterval(() => (this.device = Date.now()), tick);
    setInterval(again, refreshEvery);
    document.addEventListener('visibilitychange', again);
    addEventListener('online', again);
  }

  private async showKept(): Promise<void> {
    const a = (this.chosenUnits && (await kept<Answer>('tonight-' + this.chosenUnits))) || (await kept<Answer>('tonight'));
    if (a) this.take(a);
  }

  private running: Promise<void> | null = null;
  private wanted = false;

  /** refresh asks for the answer; asked again while running, it runs once more. */
  refresh(): Promise<void> {
    if (this.running) {
      this.wanted = true;
      return this.running;
    }
    this.running = this.load().finally(() => {
      this.running = null;
      if (this.wanted) {
        this.wanted = false;
        void this.refresh();
      }
    });
    return this.running;
  }

  private async load(): Promise<void> {
    this.loading = true;
    try {
      const a = await this.askTonight(false);
      if (!a.value.current) await this.askTonight(true);
      this.trouble = null;
      this.reached = true;
      this.health = (await ask((c) => c.health())).value;
    } catch (e) {
      this.trouble = e instanceof Trouble ? e : new Trouble(String(e), 0);
      this.reached = this.trouble.status !== 0;
    } finally {
      this.loading = false;
      this.device = Date.now();
    }
  }

  // Without wait the program gives what is at hand, which is better than nothing
  // while it works.
  private async askTonight(wait: boolean): Promise<Kept<Answer>> {
    const units = this.chosenUnits ?? undefined;
    const a = await ask((c) => c.tonight({ ahead: nightsAhead, units, wait }), units ? 'tonight-' + units : 'tonight');
    this.take(a);
    return a;
  }

  async loadFarm(): Promise<void> {
    this.farm = await askOrKept('farm', (c) => c.farm());
  }

  async loadFeeds(): Promise<void> {
    this.feeds = await askOrKept('feeds', (c) => c.feeds());
  }

  block(id: string) {
    return this.answer?.blocks.find((b) => b.block_id === id) ?? null;
  }
}

export const app = new App();

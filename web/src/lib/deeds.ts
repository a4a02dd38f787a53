// What is to be done, taken from what the answer chose for each block: by kind
// of work, in order of time, each with what to mind.

import type { Answer, BlockAnswer, Choice } from '../types';

export interface Task {
  block: BlockAnswer;
  choice: Choice;
  at: number; // Unix ms; 0 = no time is known
}

export interface Deed {
  key: string;
  label: string;
  ahead: boolean;
  tasks: Task[];
  cautions: string[];
  conditions: string[];
  stopRules: string[];
}

export const capital = (s: string): string => s.charAt(0).toUpperCase() + s.slice(1);

const when = (c: Choice): number => (c.start_at ? new Date(c.start_at).getTime() : 0);

export const chosen = (b: BlockAnswer): Choice[] => b.choices.filter((c) => c.chosen && c.kind !== 'nothing');

const union = (lists: (string[] | undefined)[]): string[] => [...new Set(lists.flatMap((l) => l ?? []))];

export function deeds(a: Answer): Deed[] {
  const groups = new Map<string, Task[]>();
  for (const block of a.blocks) {
    for (const choice of chosen(block)) {
      const key = (choice.ahead ? 'ahead ' : 'tonight ') + choice.label;
      const task = { block, choice, at: when(choice) };
      const list = groups.get(key);
      if (list) list.push(task);
      else groups.set(key, [task]);
    }
  }
  const out: Deed[] = [];
  for (const [key, tasks] of groups) {
    tasks.sort((x, y) => x.at - y.at);
    const all = tasks.map((t) => t.choice);
    const one = union(all.map((c) => c.conditions));
    out.push({
      key,
      label: capital(all[0]!.label),
      ahead: all[0]!.ahead,
      tasks,
      cautions: union(all.map((c) => c.cautions)),
      // Conditions that differ between blocks stand with their block.
      conditions: one.filter((t) => all.every((c) => c.conditions?.includes(t))),
      stopRules: union(all.map((c) => (c.stop_rule ? [c.stop_rule] : []))),
    });
  }
  return out.sort((x, y) => x.tasks[0]!.at - y.tasks[0]!.at);
}

/** first is what has to be done first tonight. */
export function first(list: Deed[]): Task | null {
  return list.filter((d) => !d.ahead).flatMap((d) => d.tasks).reduce<Task | null>((a, t) => (!a || t.at < a.at ? t : a), null);
}

/** chanceNow is the chance of damage tonight with nothing done. */
export const chanceNow = (b: BlockAnswer): number | null => b.nights[0]?.risk?.probability ?? null;

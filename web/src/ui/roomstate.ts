// The plan of a room as the page knows it. The plan's text is the document:
// changes are written into it by the server, undo is the text before.

import { batch, computed, effect, signal } from '@preact/signals';
import * as api from '../api/client.gen.ts';
import { Trouble } from '../api/post.ts';
import { History } from '../core/history.ts';
import * as s from './state.ts';

export const id = signal('');
export const room = signal<api.LivePlan | null>(null);
/** Lines of equal light, and the text that they are of. */
export const isolux = signal<{ of: string; lines: api.LiveIsolux[] }>({ of: '', lines: [] });
/** What was changed and not yet answered: drawn at once. */
export const moving = signal<Record<string, unknown>>({});
/** Why the last change was not taken. */
export const refused = signal<{ message: string; hint: string } | null>(null);
export const chosen = signal('lamp.0');
export const kinds = signal<api.PlanKind[]>([]);
export const solved = signal<api.PlanSolved | null>(null);
/** The set that the plan is held against, and what it measured. */
export const joined = signal('');
export const met = signal<api.PlanMet | null>(null);

const saved = signal('');
const history = signal<{ h: History<string> }>({ h: new History('') });
export const text = computed(() => history.value.h.now);
export const canUndo = computed(() => history.value.h.canUndo);
export const canRedo = computed(() => history.value.h.canRedo);
export const unsaved = computed(() => text.value !== '' && text.value !== saved.value);

const draft = (file: string) => `room ${file}`;

export async function open(file: string) {
  await s.attempt(async () => {
    const onDisk = await api.lookRoom({ id: file, text: '', changes: [], isolux: true });
    let now = onDisk;
    const kept = s.recall(draft(file));
    if (kept && kept !== onDisk.text) {
      // A draft that can't be read any more isn't worth stopping for.
      now = await api.lookRoom({ id: file, text: kept, changes: [], isolux: true }).catch(() => onDisk);
    }
    take(file, onDisk.text, now);
  });
}

function take(file: string, disk: string, now: api.LivePlan) {
  batch(() => {
    id.value = file;
    saved.value = disk;
    room.value = now;
    isolux.value = { of: now.text, lines: now.isolux };
    history.value = { h: new History(now.text) };
    moving.value = {};
    refused.value = null;
    solved.value = null;
    chosen.value = 'lamp.0';
  });
  s.remember('room', file);
}

/** Writes a plan to begin from and opens it. */
export async function begin(file: string, example: boolean) {
  await s.attempt(async () => {
    const now = await api.newRoom({ id: file, example });
    await s.relist();
    take(file, now.text, now);
  });
}

let pending: api.PlanChange[] = [];
let kind = '';
let busy = false;
let drags = 0;
let drag = ''; // the kind of all changes while something is held

/** Between these two all changes are one step of undo, however long it takes. */
export const hold = () => {
  drag = `drag ${++drags}`;
};
export const release = () => {
  drag = '';
};

/** Changes the plan; kind joins the steps of one drag into one step of undo. */
export function change(how: string, ...changes: api.PlanChange[]) {
  for (const c of changes) {
    pending = [...pending.filter((p) => p.key !== c.key), c];
  }
  kind = drag || how;
  moving.value = { ...moving.value, ...Object.fromEntries(changes.map((c) => [c.key, c.value])) };
  if (!busy) void work();
}

/** Puts the text itself. */
export async function write(next: string) {
  await answered(() => api.lookRoom({ id: id.value, text: next, changes: [], isolux: false }), 'text');
}

async function work() {
  busy = true;
  while (pending.length) {
    const now = pending;
    pending = [];
    await answered(() => api.lookRoom({ id: id.value, text: text.value, changes: now, isolux: false }), kind);
    // What waits is still on its way; the rest is answered.
    moving.value = Object.fromEntries(pending.map((c) => [c.key, c.value]));
  }
  busy = false;
}

async function answered(ask: () => Promise<api.LivePlan>, how: string): Promise<boolean> {
  s.asking.value = s.asking.peek() + 1;
  try {
    const r = await ask();
    batch(() => {
      const h = history.value.h;
      if (r.text !== h.now) h.set(r.text, how, performance.now(), how === `drag ${drags}`); // its last answer may come after the release
      history.value = { h };
      room.value = r;
      refused.value = null;
      solved.value = null;
    });
    return true;
  } catch (error) {
    if (error instanceof Trouble && error.code !== 'lost') refused.value = { message: error.message, hint: error.hint };
    else s.say(error);
    return false;
  } finally {
    s.asking.value = s.asking.peek() - 1;
  }
}

async function back(step: (h: History<string>) => void) {
  const h = history.value.h;
  step(h);
  history.value = { h };
  await answered(() => api.lookRoom({ id: id.value, text: h.now, changes: [], isolux: false }), '');
}

export const undo = () => (history.value.h.canUndo ? void back((h) => h.undo()) : undefined);
export const redo = () => (history.value.h.canRedo ? void back((h) => h.redo()) : undefined);

export async function save(file = id.value) {
  const now = text.value;
  const fresh = file !== id.value;
  await s.attempt(async () => {
    await api.saveRoom({ id: file, text: now, was: fresh ? '' : saved.value });
    s.remember(draft(id.value), '');
    batch(() => {
      id.value = file;
      saved.value = now;
    });
    s.remember('room', file);
    if (fresh) await s.relist();
  });
}

export async function solve(targets: string[]) {
  await s.attempt(async () => {
    solved.value = await api.solveRoom({ id: id.value, text: text.value, targets });
  });
}

let last = 0;
effect(() => {
  const now = text.value;
  if (!now || s.place.value !== 'room') return;
  if (id.peek()) s.remember(draft(id.peek()), now === saved.value ? '' : now);
  clearTimeout(last);
  if (isolux.peek().of === now) return;
  last = setTimeout(() => {
    void s.attempt(async () => {
      const r = await api.lookRoom({ id: id.value, text: now, changes: [], isolux: true });
      isolux.value = { of: now, lines: r.isolux };
    });
  }, 250);
});
effect(() => {
  const plans = (s.started.value?.files ?? []).filter((f) => f.kind === 'plan');
  if (s.place.value !== 'room' || id.peek() || !plans.length) return;
  const want = plans.find((f) => f.id === s.recall('room')) ?? plans[0];
  if (want) void open(want.id);
});
effect(() => {
  if (s.place.value !== 'room' || kinds.peek().length) return;
  void s.attempt(async () => {
    kinds.value = (await api.kindsRoom({})).kinds;
  });
});
let meeting = 0;
effect(() => {
  const set = joined.value;
  const now = text.value;
  if (s.place.value !== 'room' || !id.value || !now) return;
  clearTimeout(meeting);
  if (!set) {
    met.value = null;
    return;
  }
  meeting = setTimeout(() => {
    void s.attempt(async () => {
      const m = await api.meetRoom({ id: id.peek(), text: now, set });
      if (joined.peek() === set && text.peek() === now) met.value = m;
    });
  }, met.peek() ? 200 : 0);
});

/** Holds the plan against a set; empty: against none. */
export function join(set: string) {
  joined.value = set;
  s.remember('joined', set);
}
effect(() => {
  const known = s.started.value?.sets ?? [];
  const kept = s.recall('joined');
  if (!joined.peek() && known.some((x) => x.name === kept)) joined.value = kept;
});

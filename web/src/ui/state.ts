// What the page knows, as signals; and how it changes.

import { batch, computed, signal } from '@preact/signals';
import * as api from '../api/client.gen.ts';
import { ask, lost, Trouble } from '../api/post.ts';
import { History } from '../core/history.ts';
import type { Stage } from '../core/path.ts';
import type { Compiled, Frame, Lamps } from '../gl/screen.ts';

export type Place = 'room' | 'lamps' | 'picture' | 'episodes';

export const started = signal<api.Started | null>(null);
export const place = signal<Place>(placeOf(location.hash));
export const trouble = signal<{ message: string; hint: string } | null>(null);
export const jobs = signal<Record<string, api.Job>>({});
export const connected = signal(true);

export const clip = signal<api.Probed | null>(null);
export const frameNumber = signal(0);
export const frame = signal<Frame | null>(null);
export const gradeFile = signal('');
export const savedText = signal('');
export const stage = signal<Stage>('curve');
export const after = signal<Stage | ''>('');
export const wipeStage = signal<Stage | 'none'>('none');
export const wipeAt = signal(0.5);
export const pickingCard = signal(false);
/** What stands below the picture. */
export const below = signal<'setting' | 'suggestions' | 'cost' | 'problems'>('setting');

/** The scope that is asked for, and its picture. */
export const scope = signal('');
export const scopeImage = signal('');

export const right = signal<Compiled | null>(null);
export const left = signal<Compiled | null>(null);
export const light = signal<api.LiveLight | null>(null);

export const setName = signal('');
export const set = signal<api.ShownSet | null>(null);
export const mix = signal<api.LiveMix | null>(null);
export const lampPictures = signal<Lamps | null>(null);
export const mixProgram = signal<Compiled | null>(null);
export const solved = signal<api.Solved | null>(null);
export const lampView = signal<{ kind: 'mix' | 'alone' | 'without' | 'share'; lamp: number }>({ kind: 'mix', lamp: 0 });

/** Widest picture asked for: what the page shows at most. */
export const WIDTH = 1280;

export type Targets = Record<string, { want: number; tolerance: number }>;

/** All that undo goes back over. */
interface Doc {
  grade: api.Grade | null;
  levels: number[];
  targets: Targets;
}

const history = signal<{ h: History<Doc> }>({ h: new History<Doc>({ grade: null, levels: [], targets: {} }) });
export const grade = computed(() => history.value.h.now.grade);
export const levels = computed(() => history.value.h.now.levels);
export const targets = computed(() => history.value.h.now.targets);
export const canUndo = computed(() => history.value.h.canUndo);
export const canRedo = computed(() => history.value.h.canRedo);
export const unsaved = computed(() => grade.value !== null && JSON.stringify(grade.value) !== savedText.value);

export function say(error: unknown) {
  if (error instanceof Trouble) trouble.value = { message: error.message, hint: error.hint };
  else if (error instanceof Error && error.name !== 'AbortError') trouble.value = { message: error.message, hint: 'Load the page again; what you changed is kept in this browser.' };
}

/** Runs what may go wrong and says so. */
export async function attempt<T>(what: () => Promise<T>): Promise<T | undefined> {
  try {
    const answer = await what();
    if (trouble.peek()?.message === lost.message) trouble.value = null;
    return answer;
  } catch (error) {
    say(error);
    return undefined;
  }
}

function change(next: Partial<Doc>, kind: string) {
  const h = history.value.h;
  h.set({ ...h.now, ...next }, kind, performance.now());
  history.value = { h };
}

/** Takes something opened anew; undo begins from there. */
function opened(next: Partial<Doc>) {
  const h = new History<Doc>({ ...history.peek().h.now, ...next });
  history.value = { h };
}

/** Changes the grade; kind joins moves of one control into one step of undo. */
export function edit(kind: string, how: (g: api.Grade) => void) {
  const now = grade.value;
  if (!now) return;
  const next = structuredClone(now);
  how(next);
  change({ grade: next }, kind);
}

export const setLevels = (next: number[], kind: string) => change({ levels: next }, kind);
export const setTargets = (next: Targets, kind: string) => change({ targets: next }, kind);

export function undo() {
  const h = history.value.h;
  h.undo();
  history.value = { h };
}

export function redo() {
  const h = history.value.h;
  h.redo();
  history.value = { h };
}

export function placeOf(hash: string): Place {
  const p = hash.replace('#', '');
  return p === 'room' || p === 'lamps' || p === 'episodes' ? p : 'picture';
}

export const remember = (key: string, value: string) => {
  try {
    localStorage.setItem(`lampwise ${key}`, value);
  } catch {
    // Without storage the page forgets on reload; nothing else.
  }
};
export const recall = (key: string): string => {
  try {
    return localStorage.getItem(`lampwise ${key}`) ?? '';
  } catch {
    return '';
  }
};

/** Opens the page's data: files, sets, and what was open last. */
export async function open() {
  await attempt(async () => {
    const s = await api.start({});
    started.value = s;
    trouble.value = null;
    const clips = s.files.filter((f) => f.kind === 'clip');
    const last = recall('clip');
    const usual = (f: api.ListedFile) => (f.id === last ? 0 : /finished|switch/.test(f.name) ? 2 : 1);
    const order = [...clips].sort((a, b) => usual(a) - usual(b));
    const grades = s.files.filter((f) => f.kind === 'grade');
    const lastGrade = grades.find((f) => f.id === recall('grade')) ?? grades[0];
    const lastSet = s.sets.find((x) => x.name === recall('set')) ?? s.sets[0];
    await Promise.all([
      order.length && clip.value === null ? openFirst(order) : undefined,
      lastGrade && grade.value === null ? openGrade(lastGrade.id) : undefined,
      lastSet && set.value === null ? openSet(lastSet.name) : undefined,
    ]);
  });
}

export async function relist() {
  await attempt(async () => {
    started.value = await api.start({});
  });
}

const mostTried = 8; // clips, before a folder of broken ones is given up

/** Opens the first clip that can be; a damaged one is told of when nothing else is there, or when it is chosen. */
async function openFirst(order: api.ListedFile[]) {
  for (const [i, f] of order.entries()) {
    try {
      showClip(await api.probe({ id: f.id }));
      return;
    } catch (error) {
      if (i === order.length - 1 || i + 1 === mostTried) throw error;
    }
  }
}

export async function openClip(id: string) {
  await attempt(async () => showClip(await api.probe({ id })));
}

function showClip(p: api.Probed) {
  batch(() => {
    frame.value = null;
    light.value = null;
    clip.value = p;
    frameNumber.value = Math.floor(p.frames / 2);
  });
  remember('clip', p.id);
}

export async function openGrade(id: string) {
  await attempt(async () => takeGrade(await api.openGrade({ id })));
}

/** Puts the grade away, so that a new one can be begun. */
export function closeGrade() {
  batch(() => {
    gradeFile.value = '';
    opened({ grade: null });
  });
}

export function takeGrade(o: api.OpenedGrade) {
  batch(() => {
    gradeFile.value = o.id;
    savedText.value = JSON.stringify(o.grade);
    const draft = recall(`draft ${o.id}`);
    let now = o.grade;
    if (draft) {
      try {
        now = JSON.parse(draft) as api.Grade;
      } catch {
        now = o.grade;
      }
    }
    opened({ grade: now });
  });
  remember('grade', o.id);
}

export async function saveGrade(id = gradeFile.value, fresh = false): Promise<boolean> {
  const g = grade.value;
  if (!g) return false;
  const done = await attempt(() => api.saveGrade({ id, grade: g, new: fresh }));
  if (!done) return false;
  remember(`draft ${id}`, '');
  batch(() => {
    gradeFile.value = done.id;
    savedText.value = JSON.stringify(done.grade);
    if (JSON.stringify(g) !== savedText.value) edit('saved', (x) => Object.assign(x, done.grade));
  });
  return true;
}

export async function openSet(name: string) {
  await attempt(async () => {
    const [s, pictures] = await Promise.all([api.set({ set: name }), fetchPictures(name)]);
    batch(() => {
      setName.value = name;
      set.value = s;
      opened({ levels: s.lamps.map((l) => l.level), targets: {} });
      lampPictures.value = pictures;
      solved.value = null;
      lampView.value = { kind: 'mix', lamp: 0 };
    });
    remember('set', name);
  });
}

async function fetchPictures(name: string): Promise<Lamps> {
  const a = await ask(`/api/pictures?set=${encodeURIComponent(name)}&width=640`);
  const n = (h: string) => Number(a.headers.get(`Lampwise-${h}`));
  return { width: n('Width'), height: n('Height'), count: n('Count'), data: new Uint16Array(await a.arrayBuffer()) };
}

/** How many requests are under way. */
export const asking = signal(0);

/** This is a phone's address: the rest of the page can't be asked for. */
export const inHand = signal(false);

/** Progress of jobs, told by the server. */
export function listen() {
  const source = new EventSource('/api/events');
  source.addEventListener('job', (e) => {
    const j = JSON.parse((e as MessageEvent<string>).data) as api.Job;
    const before = jobs.value[j.id]?.state;
    jobs.value = { ...jobs.value, [j.id]: j };
    if (before === 'running' && j.state === 'done' && !inHand.value) void (j.kind === 'demo' ? open() : relist());
  });
  source.onopen = () => {
    if (!connected.value) {
      jobs.value = {};
      if (!inHand.value) void open();
    }
    connected.value = true;
  };
  source.onerror = () => {
    connected.value = false;
    if (source.readyState === EventSource.CLOSED) setTimeout(listen, 2000);
  };
}

/** Height of the ladder, from the window's. */
export const ladderHeight = signal(600);

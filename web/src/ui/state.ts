// What the page knows, as signals; and how it changes.

import { batch, computed, signal } from '@preact/signals';
import * as api from '../api/client.gen.ts';
import { ask, lost, Trouble } from '../api/post.ts';
import { History } from '../core/history.ts';
import type { Stage } from '../core/path.ts';
import type { Compiled, Frame, Lamps } from '../gl/screen.ts';
import { fromOthers, keepFor, mine, recall, recalled, remember } from './keep.ts';

export { recall, remember };

export type Place = 'room' | 'lamps' | 'picture' | 'episodes';

export const started = signal<api.Started | null>(null);
export const place = signal<Place>(placeOf(location.hash));

/** What went wrong; from: the kind of request that goes on trying by itself; acts: what can be done about it here. */
export interface Said {
  message: string;
  hint: string;
  code?: string;
  from?: string;
  acts?: [string, () => void][];
}
export const trouble = signal<Said | null>(null);
export const jobs = signal<Record<string, api.Job>>({});
/** The server: there; not answering; or started anew, so that it doesn't know this page yet. */
export const server = signal<'here' | 'gone' | 'anew'>('here');
/** Counts up when what failed is to be asked for again. */
export const again = signal(0);

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

/** Widest picture asked for: what the page shows at most; and while a place in the clip is looked for (internal/job, ShownWidth and ScrubWidth). */
export const WIDTH = 1280;
export const SCRUB = 480;

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

/** A message with files named as the page names them, not from the disk's root. */
export const plain = (message: string): string => (started.peek()?.folders ?? []).reduce((m, f) => m.replaceAll(`${f}/`, '').replaceAll(`${f}\\`, ''), message);

export function say(error: unknown, from?: string) {
  if (error instanceof Trouble) trouble.value = { message: plain(error.message), hint: error.hint, code: error.code, from };
  else if (error instanceof Error && error.name !== 'AbortError') trouble.value = { message: error.message, hint: 'Load the page again; what you changed is kept in this browser.' };
}

/** Runs what may go wrong and says so; from as in Said. */
export async function attempt<T>(what: () => Promise<T>, from?: string): Promise<T | undefined> {
  try {
    const answer = await what();
    const now = trouble.peek();
    if (now && (now.code === lost.code || (from && now.from === from))) trouble.value = null;
    return answer;
  } catch (error) {
    say(error, from);
    if (from && error instanceof Trouble && passing.has(error.code)) retry();
    return undefined;
  }
}

/** What may have passed by the next time: the file is put back, lampwise is started again. */
const passing = new Set([lost.code, 'token', 'gone', 'no-file', 'unreadable']);
let waiting = false;
function retry() {
  if (waiting) return;
  waiting = true;
  setTimeout(() => {
    waiting = false;
    again.value++;
  }, 2000);
}

/** While a button is held, moves of one control are one step of undo, however long it takes. */
let held = false;
for (const [event, is] of [['pointerdown', true], ['pointerup', false], ['pointercancel', false]] as const) addEventListener(event, () => { held = is; }, true);

function change(next: Partial<Doc>, kind: string) {
  const h = history.value.h;
  h.set({ ...h.now, ...next }, kind, performance.now(), held);
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

/** Opens the page's data: files, sets, and what was open last. */
export async function open() {
  await attempt(async () => {
    const s = await api.start({});
    keepFor(s.folders);
    started.value = s;
    trouble.value = null;
    const first = clip.value === null;
    if (first) look();
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
    ]);
    // A set's lamp pictures are large: the clip's picture goes first.
    if (lastSet && set.value === null) {
      if (place.value === 'picture' && clip.value && grade.value) await firstFrame();
      await openSet(lastSet.name);
    }
    if (first) stepsAgain();
  });
}

export async function relist() {
  await attempt(async () => {
    const s = await api.start({});
    if (JSON.stringify(s) !== JSON.stringify(started.peek())) started.value = s;
  });
}

/** How the Picture page is looked at, kept over a reload. */
interface View {
  clip: string;
  frame: number;
  stage: Stage;
  after: Stage | '';
  wipe: Stage | 'none';
  at: number;
  below: typeof below.value;
  scope: string;
}

export function keepView() {
  if (!clip.value) return;
  const v: View = { clip: clip.value.id, frame: frameNumber.value, stage: stage.value, after: after.value, wipe: wipeStage.value, at: wipeAt.value, below: below.value, scope: scope.value };
  remember('view', JSON.stringify(v));
}

/** Looks at the page as it was left. */
function look() {
  const v = recalled<View>('view');
  if (!v) return;
  batch(() => {
    stage.value = v.stage;
    after.value = v.after;
    wipeStage.value = v.wipe;
    wipeAt.value = v.at;
    below.value = v.below;
    scope.value = v.scope;
  });
}

const mostSteps = 60; // of undo that a reload takes along

/** Puts the steps of undo by for a reload of this window. */
export const keepSteps = () => mine.put('steps', JSON.stringify({ grade: gradeFile.peek(), set: setName.peek(), steps: history.peek().h.dump(mostSteps) }));

/** Takes them up again where what they lead to is what was opened. */
function stepsAgain() {
  const kept = mine.take('steps');
  if (!kept) return;
  const { grade: file, set: of, steps } = JSON.parse(kept) as { grade: string; set: string; steps: { past: Doc[]; future: Doc[]; now: Doc } };
  if (file === gradeFile.value && of === setName.value && JSON.stringify(steps.now) === JSON.stringify(history.value.h.now)) history.value = { h: History.of(steps) };
}

const mostTried = 8; // clips, before a folder of broken ones is given up

const patience = 3000; // ms

/** Waits until a frame is there, not for ever. */
const firstFrame = () =>
  new Promise<void>((go) => {
    const done = () => {
      stop();
      go();
    };
    const late = setTimeout(() => done(), patience);
    const stop = frame.subscribe((f) => {
      if (!f) return;
      clearTimeout(late);
      queueMicrotask(done); // stop isn't there yet where the frame is
    });
  });

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
    const seen = recalled<View>('view');
    frameNumber.value = seen?.clip === p.id ? Math.min(seen.frame, Math.max(0, p.frames - 1)) : p.opening;
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
  const draft = recalled<api.Grade>(`draft ${o.id}`);
  batch(() => {
    gradeFile.value = o.id;
    savedText.value = JSON.stringify(o.grade);
    opened({ grade: draft ?? o.grade });
  });
  remember('grade', o.id);
}

/** Takes what the file holds now, as one step of undo. */
async function takeFile() {
  await attempt(async () => {
    const o = await api.openGrade({ id: gradeFile.value });
    batch(() => {
      trouble.value = null;
      savedText.value = JSON.stringify(o.grade);
      edit('file', (x) => Object.assign(x, o.grade));
    });
  });
}

/** Windows on the same grade file show the same settings: what one changes or saves, the others take. */
export const follow = () =>
  fromOthers((key, value) => {
    if (key !== `draft ${gradeFile.peek()}` || !grade.peek()) return;
    if (!value) void takeFile();
    else if (value !== JSON.stringify(grade.peek())) edit('elsewhere', (x) => Object.assign(x, JSON.parse(value)));
  });

/** Writes the grade; over: whatever the file holds by now. */
export async function saveGrade(id = gradeFile.value, fresh = false, over = false): Promise<boolean> {
  const g = grade.value;
  if (!g) return false;
  const was = fresh || over ? null : (JSON.parse(savedText.value) as api.Grade);
  const done = await attempt(() => api.saveGrade({ id, grade: g, new: fresh, was }), 'save');
  if (!done && trouble.value?.code === 'grade-changed') {
    trouble.value = { ...trouble.value, acts: [['take what it holds', () => void takeFile()], ['write over it', () => void saveGrade(id, false, true)]] };
  }
  if (!done) return false;
  if (over) trouble.value = null;
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
      const kept = recalled<Mixed>(`mix ${name}`);
      const same = kept?.learned === s.learned && kept.levels.length === s.lamps.length;
      opened(same ? { levels: kept.levels, targets: kept.targets } : { levels: s.lamps.map((l) => l.level), targets: {} });
      lampPictures.value = pictures;
      solved.value = null;
      lampView.value = { kind: 'mix', lamp: 0 };
    });
    remember('set', name);
  });
}

/** A set's mix as it was left, kept over a reload. */
interface Mixed {
  learned: string;
  levels: number[];
  targets: Targets;
}

export function keepMix() {
  const m: Mixed | null = set.value && { learned: set.value.learned, levels: levels.value, targets: targets.value };
  if (m && m.levels.length === set.value?.lamps.length) remember(`mix ${setName.value}`, JSON.stringify(m));
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

/** Height of the ladder, from the window's. */
export const ladderHeight = signal(600);

// What the page asks the server for when what is looked at changes.

import { effect } from '@preact/signals';
import * as api from '../api/client.gen.ts';
import { ask, postRaw } from '../api/post.ts';
import type { Compiled } from '../gl/screen.ts';
import { takeDrops } from './drop.ts';
import { listen } from './events.ts';
import { after, again, asking, attempt, clip, follow, frame, frameNumber, grade, gradeFile, keepMix, keepSteps, keepView, left, levels, light, mix, mixProgram, place, placeOf, relist, remember, right, SCRUB, scope, scopeImage, set, setName, started, unsaved, WIDTH, wipeStage } from './state.ts';

/** Keeps one request of a kind under way, and of those that wait the newest. One that fails for what may pass is asked again. */
function latest<T>(kind: string, run: (ask: T) => Promise<void>): (ask: T) => void {
  let busy = false;
  let waiting: { ask: T } | null = null;
  let failed: { ask: T } | null = null;
  const go = async (a: T) => {
    busy = true;
    failed = null;
    asking.value = asking.peek() + 1; // peeked at: whoever asks must not wait on it
    const done = await attempt(async () => {
      await run(a);
      return true;
    }, kind);
    if (!done) failed = { ask: a };
    asking.value = asking.peek() - 1;
    busy = false;
    const next = waiting;
    waiting = null;
    if (next) void go(next.ask);
  };
  effect(() => {
    if (again.value && failed && !busy) void go(failed.ask);
  });
  return (a) => {
    if (busy) waiting = { ask: a };
    else void go(a);
  };
}

async function compile(shown: api.Shown): Promise<Compiled> {
  const data = await (await postRaw('program', shown)).arrayBuffer();
  const length = new DataView(data).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(data, 4, length))) as api.LiveProgram;
  return { head, texels: new Float32Array(data, 4 + length) };
}

const askRight = latest('program', async (s: api.Shown) => {
  right.value = await compile(s);
});
const askLeft = latest('program beside', async (s: api.Shown) => {
  left.value = await compile(s);
});
const askMixProgram = latest('mix program', async (s: api.Shown) => {
  mixProgram.value = await compile(s);
});
const askLight = latest('light', async (s: api.LightAsked) => {
  light.value = await api.light(s);
});
const askMix = latest('mix', async (s: api.MixAsked) => {
  mix.value = await api.mix(s);
});
const askScope = latest('scope', async (s: api.ScopeAsked) => {
  const png = await (await postRaw('scope', s)).blob();
  if (scopeImage.peek()) URL.revokeObjectURL(scopeImage.peek());
  scopeImage.value = URL.createObjectURL(new Blob([png], { type: 'image/png' }));
});
interface Asked {
  clip: string;
  frame: number;
  width: number;
  range: string;
  matrix: string;
}

/** Which frame is shown, and how wide it was asked for. */
let shown: Asked | null = null;

const askFrame = latest('frame', async (q: Asked) => {
  const here = () => q.clip === clip.peek()?.id && q.frame === frameNumber.peek();
  if (q.width === WIDTH && !here()) return; // it was gone on from
  if (shown && shown.clip === q.clip && shown.frame === q.frame && shown.width >= q.width && shown.range === q.range && shown.matrix === q.matrix) return;
  const a = await ask(`/api/frame?${new URLSearchParams({ ...q, frame: String(q.frame), width: String(q.width) })}`);
  const n = (h: string) => Number(a.headers.get(`Lampwise-${h}`));
  const data = new Uint16Array(await a.arrayBuffer());
  if (q.clip !== clip.peek()?.id || (q.width === WIDTH && !here())) return;
  shown = q;
  frame.value = { width: n('Width'), height: n('Height'), data, number: q.frame };
});

export function watch() {
  let rest = 0;
  place.value = placeOf(location.hash); // it may have changed since the page began
  addEventListener('hashchange', () => {
    place.value = placeOf(location.hash);
  });
  effect(() => {
    const g = grade.value;
    const c = clip.value;
    if (!g || !c || place.value !== 'picture') return;
    askRight({ clip: c.id, set: '', grade: g, file: gradeFile.value, after: after.value });
  });
  effect(() => {
    const g = grade.value;
    const c = clip.value;
    if (!g || !c || wipeStage.value === 'none' || place.value !== 'picture') {
      left.value = null;
      return;
    }
    askLeft({ clip: c.id, set: '', grade: g, file: gradeFile.value, after: wipeStage.value });
  });
  effect(() => {
    const c = clip.value;
    if (!c || place.value !== 'picture') return;
    const d = grade.value?.decode;
    const q = { clip: c.id, frame: frameNumber.value, range: d?.range ?? 'auto', matrix: d?.matrix ?? 'auto' };
    clearTimeout(rest);
    if (!frame.peek()) shown = null;
    if (!shown || c.width <= SCRUB) {
      askFrame({ ...q, width: WIDTH });
      return;
    }
    // While the place is looked for a small frame does; it is had ready for short clips.
    askFrame({ ...q, width: SCRUB });
    rest = setTimeout(() => askFrame({ ...q, width: WIDTH }), 100);
  });
  let last = 0;
  effect(() => {
    const g = grade.value;
    const c = clip.value;
    const regions = (set.value?.regions ?? []).map(({ name, x, y, w, h }) => ({ name, x, y, w, h }));
    if (!g || !c || !frame.value || place.value !== 'picture') return;
    const ask = { clip: c.id, set: '', grade: g, file: gradeFile.value, after: '', frame: frameNumber.value, width: WIDTH, regions };
    const wanted = scope.value;
    clearTimeout(last);
    last = setTimeout(() => {
      askLight(ask);
      const { regions: _, ...rest } = ask;
      if (wanted) askScope({ ...rest, scope: wanted });
    }, 120);
  });
  effect(() => {
    const g = grade.value;
    if (!g || !setName.value || place.value !== 'lamps') return;
    askMixProgram({ clip: '', set: setName.value, grade: g, file: gradeFile.value, after: '' });
  });
  effect(() => {
    const g = grade.value;
    // The Picture page wants the noise floor of it, once.
    if (!g || !setName.value || !levels.value.length || (place.value !== 'lamps' && mix.peek())) return;
    askMix({ clip: '', set: setName.value, grade: g, file: gradeFile.value, after: '', levels: levels.value });
  });
  effect(() => {
    const g = grade.value;
    if (g && gradeFile.value) remember(`draft ${gradeFile.value}`, unsaved.value ? JSON.stringify(g) : '');
  });
  effect(keepView);
  effect(keepMix);
  addEventListener('pagehide', keepSteps);
  // A file put into the folder meanwhile is found when the page is come back to.
  addEventListener('focus', () => {
    if (started.value) void relist();
  });
  follow();
  takeDrops();
  listen();
}

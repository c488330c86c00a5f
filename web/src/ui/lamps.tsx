// Lamps: the picture as the current mix through the grade, before it is shot.

import { effect } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import type * as api from '../api/client.gen.ts';
import { ask } from '../api/post.ts';
import { clamp, stopsText } from '../core/stops.ts';
import { Screen } from '../gl/screen.ts';
import { Caller } from './caller.tsx';
import { Ladder } from './ladder.tsx';
import { Empty, LevelRuler, LevelText } from './parts.tsx';
import { Phones } from './phone.tsx';
import * as s from './state.ts';
import { Card, Check, colourText, Learn, most, Targets } from './under.tsx';

type Under = 'check' | 'targets' | 'caller' | 'learn' | 'card' | 'phones';
const words: Record<Under, string> = { check: 'set check', targets: 'targets', caller: 'caller', learn: 'learn a set', card: 'set card', phones: 'phones' };

export function Lamps() {
  const [under, show] = useState<Under>('check');
  const set = s.set.value;
  const sets = s.started.value?.sets ?? [];
  if (!s.started.value) return <main class="place first"><Empty title="Lamps"><p>Reading …</p></Empty></main>;
  if (!set) {
    return (
      <main class="place first">
        <Empty title="No set is known yet">
          <p>One clip in which the lamps are switched one after the other, camera locked, exposure and white balance on manual, is enough to tell them apart.</p>
          <Learn />
        </Empty>
      </main>
    );
  }
  const head = s.mixProgram.value?.head;
  const m = s.mix.value;
  return (
    <main class="place lamps">
      <aside class="left" aria-label="Lamps of this set">
        <p class="pickset">
          <label>
            set <select value={s.setName.value} onChange={(e) => void s.openSet(e.currentTarget.value)}>
              {sets.map((x) => <option key={x.name} value={x.name}>{x.name}</option>)}
            </select>
          </label>
        </p>
        <ul class="rows">{set.lamps.map((l, i) => <Row key={l.name} l={l} i={i} />)}</ul>
        <div class="ambient"><span>ambient</span><small>what no switch turns off · not dimmable</small></div>
        {m && <p class="note">{ratios(m.ratios)}</p>}
        <p class="buttons">
          <button type="button" aria-pressed={s.lampView.value.kind === 'share'} onClick={() => { s.lampView.value = { kind: s.lampView.value.kind === 'share' ? 'mix' : 'share', lamp: 0 }; }}>who lights what</button>
          <button type="button" onClick={() => { s.setLevels(set.lamps.map((l) => l.level), 'as learned'); }}>as it was learned</button>
        </p>
      </aside>
      <MixPicture set={set} />
      <aside class="right" aria-label="Ladder">
        {s.grade.value === null && <p class="note">Open a grade to see the mix graded.</p>}
        {head && m && (
          <Ladder
            height={s.ladderHeight.value}
            ladder={head.ladder}
            marks={m.readings.filter((r) => r.region !== 'frame').map((r) => ({ name: r.region, scene: r.scene, screen: r.screen, hollow: true }))}
            clip={m.clip_stops ?? head.clip_stops}
            measured={m.clip_stops !== null || head.clip_measured}
            floor={m.floor_stops}
            targets={{
              list: Object.entries(s.targets.value).map(([region, t]) => ({ region, ...t })),
              move: (region, want) => {
                const t = s.targets.value[region];
                if (t) s.setTargets({ ...s.targets.value, [region]: { ...t, want: Math.round(100 * clamp(want, -9, 7)) / 100 } }, `target ${region}`);
              },
            }}
          />
        )}
      </aside>
      <div class="under">
        <nav class="turns" aria-label="Below the picture">
          {(Object.keys(words) as Under[]).map((u) => (
            <button key={u} type="button" aria-pressed={under === u} onClick={() => show(u)}>{words[u]}</button>
          ))}
        </nav>
        {under === 'check' && <Check />}
        {under === 'targets' && <Targets set={set} />}
        {under === 'caller' && <Caller />}
        {under === 'learn' && <Learn />}
        {under === 'card' && <Card set={set} />}
        {under === 'phones' && <Phones />}
      </div>
    </main>
  );
}

function ratios(r: api.RatioReport): string {
  const parts: string[] = [];
  if (r.key_to_fill !== null) parts.push(`key-to-fill ${r.key_to_fill.toFixed(1)} : 1`);
  if (r.key_to_background_stops !== null) parts.push(`key-to-background ${stopsText(r.key_to_background_stops, 1)}`);
  if (r.lit_to_shade_stops !== null) parts.push(`lit-to-shade ${stopsText(r.lit_to_shade_stops, 1)}`);
  return parts.join(' · ');
}

function Row({ l, i }: { l: api.LampReport; i: number }) {
  const level = s.levels.value[i] ?? 0;
  const view = s.lampView.value;
  const look = (kind: 'alone' | 'without') => () => {
    s.lampView.value = view.kind === kind && view.lamp === i ? { kind: 'mix', lamp: 0 } : { kind, lamp: i };
  };
  const dimmer = s.mix.value?.dimmer[i] ?? level;
  return (
    <li class="lamp">
      <Chip tint={l.tint_to_key} n={i + 1} />
      <div>
        <span class="lampname">{l.name}</span>
        <small>{colourText(l)} · {most(l)}</small>
      </div>
      <LevelText shown={dimmer} level={level} />
      <span class="level">
        <LevelRuler name={l.name} level={level} shown={dimmer} of="the dimmer" set={(v) => s.setLevels(s.levels.value.map((x, k) => (k === i ? v : x)), `level ${i}`)} />
        <button type="button" aria-pressed={view.kind === 'alone' && view.lamp === i} aria-label={`${l.name} alone`} onClick={look('alone')}>alone</button>
        <button type="button" aria-pressed={view.kind === 'without' && view.lamp === i} aria-label={`without ${l.name}`} onClick={look('without')}>without</button>
      </span>
    </li>
  );
}

/** A lamp's number on a disc of its colour beside the key's; an empty one where that isn't known. */
function Chip({ tint, n }: { tint: [number, number] | null; n: number }) {
  if (!tint) return <i class="chip plain" aria-hidden="true">{n}</i>;
  const [r, b] = tint;
  const light = [2 ** clamp(r, -2, 2), 1, 2 ** clamp(b, -2, 2)];
  const top = Math.max(...light);
  const rgb = light.map((x) => Math.round(255 * (0.92 * (x / top)) ** (1 / 2.4)));
  return <i class="chip" style={{ background: `rgb(${rgb.join(' ')})` }} aria-hidden="true">{n}</i>;
}

function MixPicture({ set }: { set: api.ShownSet }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const over = useRef<HTMLCanvasElement>(null);
  const [failed, fail] = useState('');
  const [labels, label] = useState<{ name: string; x: number; y: number }[]>([]);
  useEffect(() => {
    if (!canvas.current) return;
    let screen: Screen;
    try {
      screen = new Screen(canvas.current);
    } catch (error) {
      fail((error as Error).message);
      return;
    }
    (globalThis as unknown as { lampwise: unknown }).lampwise = { screen, state: s };
    screen.onLost = (lost) => fail(lost ? 'The graphics processor was taken away; the picture comes back by itself.' : '');
    const ends = [
      effect(() => {
        const l = s.lampPictures.value;
        if (l) screen.setLamps(l);
      }),
      effect(() => {
        const c = s.mixProgram.value;
        void s.attempt(() => screen.load(0, c));
      }),
      effect(() => {
        const m = s.mix.value;
        const v = s.lampView.value;
        if (!m) return;
        screen.weights = m.weights.map((w, i) => ((v.kind === 'alone' && i !== v.lamp) || (v.kind === 'without' && i === v.lamp) ? [0, 0, 0] : w));
        screen.draw();
      }),
    ];
    return () => {
      for (const end of ends) end();
    };
  }, []);
  const share = s.lampView.value.kind === 'share';
  const levels = s.levels.value;
  useEffect(() => {
    if (!share) return;
    const stop = new AbortController();
    void s.attempt(async () => {
      const a = await ask('/api/share', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ set: set.set, levels }), signal: stop.signal });
      const w = Number(a.headers.get('Lampwise-Width'));
      const h = Number(a.headers.get('Lampwise-Height'));
      const data = new Uint8Array(await a.arrayBuffer());
      const names = [...set.lamps.map((l) => l.name), 'ambient'];
      if (over.current) label(paint(over.current, data, w, h, names));
    });
    return () => stop.abort();
  }, [share, levels, set]);
  const v = s.lampView.value;
  const name = set.lamps[v.lamp]?.name ?? '';
  const cap = v.kind === 'share' ? 'who gives most of the light where; the share darkens to half' : v.kind === 'alone' ? `${name} alone, graded` : v.kind === 'without' ? `without ${name}, graded` : 'this mix, graded · not yet shot';
  const lp = s.lampPictures.value;
  return (
    <div class="mid">
      <div class="frame" style={{ aspectRatio: lp ? `${lp.width} / ${lp.height}` : '16 / 9' }}>
        <canvas ref={canvas} role="img" aria-label={cap} />
        <canvas ref={over} class="over" hidden={!share} role="img" aria-label="who lights what" />
        {share && labels.map((l) => <span key={l.name} class="sharename" style={{ left: `${100 * l.x}%`, top: `${100 * l.y}%` }}>{l.name}</span>)}
        <span class="cap">{cap}</span>
        {failed && <p class="failed" role="alert">{failed}</p>}
      </div>
    </div>
  );
}

/** Fills of the share view: far apart in lightness first, in hue second. */
const fills: [number, number, number][] = [[226, 222, 208], [120, 150, 176], [176, 132, 152], [86, 112, 92], [196, 190, 120], [70, 70, 96], [150, 108, 84], [205, 160, 190]];

function paint(canvas: HTMLCanvasElement, data: Uint8Array, w: number, h: number, names: string[]) {
  canvas.width = w;
  canvas.height = h;
  const g = canvas.getContext('2d');
  if (!g) return [];
  const image = g.createImageData(w, h);
  const sums = names.map(() => ({ n: 0, x: 0, y: 0 }));
  for (let p = 0; p < w * h; p++) {
    const lamp = data[2 * p] ?? 0;
    const part = (data[2 * p + 1] ?? 0) / 255;
    const f = fills[lamp % fills.length] as [number, number, number];
    const k = 0.55 + 0.45 * part;
    const x = p % w;
    const y = (p / w) | 0;
    const next = x + 1 < w && data[2 * p + 2] !== lamp;
    const below = y + 1 < h && data[2 * (p + w)] !== lamp;
    const edge = next || below ? 0.5 : 1;
    image.data.set([f[0] * k * edge, f[1] * k * edge, f[2] * k * edge, 255], 4 * p);
    const sum = sums[lamp];
    if (sum) {
      sum.n++;
      sum.x += x;
      sum.y += y;
    }
  }
  g.putImageData(image, 0, 0);
  // A name stands at the pixel of its lamp that lies nearest to their middle.
  return names.flatMap((name, lamp) => {
    const sum = sums[lamp];
    if (!sum || sum.n < 0.004 * w * h) return [];
    const cx = sum.x / sum.n;
    const cy = sum.y / sum.n;
    let best = Number.POSITIVE_INFINITY;
    let at = { x: cx, y: cy };
    for (let p = 0; p < w * h; p += 7) {
      if (data[2 * p] !== lamp) continue;
      const d = (p % w - cx) ** 2 + (((p / w) | 0) - cy) ** 2;
      if (d < best) {
        best = d;
        at = { x: p % w, y: (p / w) | 0 };
      }
    }
    return [{ name, x: clamp(at.x / w, 0.06, 0.94), y: clamp(at.y / h, 0.04, 0.96) }];
  });
}

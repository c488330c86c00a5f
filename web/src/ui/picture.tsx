// Picture: the clip, the path as one line with beads, the ladder.

import { effect } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import * as api from '../api/client.gen.ts';
import { brief, type Stage, stages, zones } from '../core/path.ts';
import { clamp, clock, percent } from '../core/stops.ts';
import { Screen } from '../gl/screen.ts';
import { Cost, Problems, Suggestions } from './advice.tsx';
import { Control } from './controls.tsx';
import { rungsOf } from './curve.tsx';
import { Finish } from './finish.tsx';
import { Ladder } from './ladder.tsx';
import * as s from './state.ts';

const belows = { setting: '', suggestions: 'suggestions', cost: 'what it costs', problems: 'problems' };

export function Picture() {
  const g = s.grade.value;
  if (!s.clip.value) return <FirstClip />;
  if (!g) return <FirstGrade />;
  const head = s.right.value?.head;
  return (
    <main class="place picture">
      <aside class="left" aria-label="Path">
        <PathList g={g} />
        <Finish />
      </aside>
      <Stagehand />
      <aside class="right" aria-label="Ladder">
        {head && (
          <Ladder
            height={s.ladderHeight.value}
            ladder={head.ladder}
            marks={(s.light.value?.readings ?? []).map((r) => ({ name: r.region, scene: r.scene, screen: r.screen }))}
            clip={head.clip_stops}
            measured={head.clip_measured}
            floor={s.mix.value?.floor_stops ?? null}
            light={s.light.value}
            rungs={
              s.stage.value === 'curve' && !g.curve.off
                ? rungsOf(g, head)
                : null
            }
          />
        )}
        {s.light.value && s.light.value.clipped > 0.0005 && <p class="note">{percent(s.light.value.clipped, 1)} of this frame is at the clip</p>}
      </aside>
      <div class="under">
        <div class="tabbed">
          <nav class="turns" aria-label="Below the picture">
            {(Object.keys(belows) as (keyof typeof belows)[]).map((b) => <button key={b} type="button" aria-pressed={s.below.value === b} onClick={() => { s.below.value = b; }}>{b === 'setting' ? s.stage.value : belows[b]}</button>)}
            <label class="scopes">
              scope <select aria-label="scope" value={s.scope.value} onChange={(e) => { s.scope.value = e.currentTarget.value; }}>
                {['', 'waveform', 'parade', 'vectorscope', 'histogram'].map((v) => <option key={v} value={v}>{v || 'none'}</option>)}
              </select>
            </label>
          </nav>
          {s.below.value === 'setting' && <Control g={g} />}
          {s.below.value === 'suggestions' && <Suggestions />}
          {s.below.value === 'cost' && <Cost />}
          {s.below.value === 'problems' && <Problems />}
        </div>
        {s.scope.value && s.scopeImage.value && <img class="scope" src={s.scopeImage.value} alt={`${s.scope.value} of this frame on the screen`} />}
      </div>
    </main>
  );
}

function PathList({ g }: { g: api.Grade }) {
  let y = 0;
  const rows: { stage?: Stage; zone?: string; y: number }[] = [];
  for (const z of zones) {
    rows.push({ zone: z.name, y: y + 13 });
    y += 24;
    for (const st of z.stages) {
      rows.push({ stage: st, y: y + 15 });
      y += 30;
    }
    y += 4;
  }
  let line = 'M14 2';
  for (const r of rows) {
    if (!r.stage) continue;
    line += g[r.stage].off ? `V${r.y - 13}C14 ${r.y - 5} 3 ${r.y - 8} 3 ${r.y}S14 ${r.y + 5} 14 ${r.y + 13}` : `V${r.y}`;
  }
  line += `V${y - 2}`;
  return (
    <section class="path">
      <svg width="28" height={y} aria-hidden="true">
        <path d={line} />
        {rows.map((r) => r.stage && <circle key={r.stage} cx="14" cy={r.y} r={s.stage.value === r.stage ? 7.5 : 5.5} class={g[r.stage].off ? 'off' : ''} />)}
      </svg>
      <ol>
        {rows.map((r) =>
          r.stage ? (
            <li key={r.stage} class={s.stage.value === r.stage ? 'on' : ''}>
              <button type="button" class="bead" aria-pressed={!g[r.stage].off} aria-label={`${r.stage} in use`} title={g[r.stage].off ? 'off: turn it on' : 'on: turn it off'} onClick={() => s.edit('off', (x) => { const st = r.stage as Stage; x[st].off = !x[st].off; })} />
              <button type="button" class="stage" aria-current={s.stage.value === r.stage ? 'true' : undefined} onClick={() => { s.stage.value = r.stage as Stage; s.below.value = 'setting'; }}>
                <span>{r.stage}</span>
                <span>{brief(g, r.stage)}</span>
              </button>
            </li>
          ) : (
            <li key={r.zone} class="zone">{r.zone}</li>
          ),
        )}
      </ol>
    </section>
  );
}

/** The picture with what lies on it, and the bar under it. */
function Stagehand() {
  const canvas = useRef<HTMLCanvasElement>(null);
  const box = useRef<HTMLDivElement>(null);
  const [failed, fail] = useState('');
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
        const f = s.frame.value;
        if (f) screen.setFrame(f);
      }),
      effect(() => {
        const c = s.right.value;
        void s.attempt(() => screen.load(0, c));
      }),
      effect(() => {
        const c = s.left.value;
        void s.attempt(() => screen.load(1, c));
      }),
      effect(() => {
        screen.wipe = s.left.value && s.wipeStage.value !== 'none' ? s.wipeAt.value : null;
        screen.draw();
      }),
    ];
    return () => {
      for (const end of ends) end();
    };
  }, []);
  const c = s.clip.value;
  if (!c) return null;
  const place = (e: PointerEvent | MouseEvent): [number, number] => {
    const b = canvas.current?.getBoundingClientRect();
    return b ? [clamp((e.clientX - b.left) / b.width, 0, 1), clamp((e.clientY - b.top) / b.height, 0, 1)] : [0, 0];
  };
  const wiping = s.wipeStage.value !== 'none';
  const pick = async (e: MouseEvent) => {
    const g = s.grade.value;
    if (!s.pickingCard.value || !g) return;
    const [x, y] = place(e);
    const read = await s.attempt(() =>
      api.light({ clip: c.id, set: '', grade: g, file: s.gradeFile.value, after: '', frame: s.frameNumber.value, width: s.WIDTH, regions: [{ name: 'card', x: clamp(x - 0.01, 0, 0.98), y: clamp(y - 0.015, 0, 0.97), w: 0.02, h: 0.03 }] }),
    );
    const rgb = read?.readings[0]?.rgb;
    if (rgb) s.edit('card', (x2) => { x2.balance.off = false; x2.balance.white = { card: rgb }; });
    s.pickingCard.value = false;
  };
  const name = (v: Stage | '' | 'none') => (v === '' ? 'screen' : `after ${v}`);
  const options: [string, string][] = stages.map((st) => [st, `after ${st}`]);
  return (
    <div class="mid">
      <div class="frame" ref={box} style={{ aspectRatio: `${c.width} / ${c.height}` }}>
        <canvas ref={canvas} aria-label={`Frame ${s.frameNumber.value} of ${c.id}, graded`} role="img" class={s.pickingCard.value ? 'picking' : ''} onClick={pick} />
        {failed && <p class="failed" role="alert">{failed}</p>}
        {wiping && (
          <div
            class="wipe"
            style={{ left: `${100 * s.wipeAt.value}%` }}
            role="slider"
            tabIndex={0}
            aria-label="Wipe"
            aria-valuemin={0}
            aria-valuemax={100}
            aria-valuenow={Math.round(100 * s.wipeAt.value)}
            onPointerDown={(e) => {
              const t = e.currentTarget;
              t.setPointerCapture(e.pointerId);
              t.onpointermove = (m) => { s.wipeAt.value = place(m)[0]; };
              t.onpointerup = () => { t.onpointermove = null; };
            }}
            onKeyDown={(e) => {
              const d = e.key === 'ArrowLeft' ? -1 : e.key === 'ArrowRight' ? 1 : 0;
              if (!d) return;
              s.wipeAt.value = clamp(s.wipeAt.value + d * (e.shiftKey ? 0.1 : 0.01), 0, 1);
              e.preventDefault();
            }}
          />
        )}
        <span class="cap">{wiping ? `left: ${name(s.wipeStage.value)} · right: ${name(s.after.value)}` : name(s.after.value)}{s.right.value && s.right.value.head.domain !== 'screen' ? ` (${s.right.value.head.domain})` : ''}</span>
        {s.stage.value === 'vignette' && <Ellipse width={c.width} height={c.height} place={place} />}
      </div>
      <div class="bar">
        <label>
          see <select aria-label="see" value={s.after.value} onChange={(e) => { s.after.value = e.currentTarget.value as Stage | ''; }}>
            <option value="">the screen</option>
            {options.map(([v, t]) => <option key={v} value={v}>{t}</option>)}
          </select>
        </label>
        <label>
          beside it <select aria-label="beside it" value={s.wipeStage.value} onChange={(e) => { s.wipeStage.value = e.currentTarget.value as Stage | 'none'; }}>
            <option value="none">nothing</option>
            {options.map(([v, t]) => <option key={v} value={v}>{t}</option>)}
          </select>
        </label>
        <input class="scrub" type="range" min={0} max={Math.max(0, c.frames - 1)} step={1} value={s.frameNumber.value} aria-label="Place in the clip" aria-valuetext={`frame ${s.frameNumber.value}, ${clock(s.frameNumber.value / c.rate)}`} onInput={(e) => { s.frameNumber.value = Number(e.currentTarget.value); }} />
        <output>{clock(s.frameNumber.value / c.rate)}</output>
      </div>
    </div>
  );
}

/** Where the vignette begins and ends, on the picture; its middle can be moved. */
function Ellipse({ width, height, place }: { width: number; height: number; place: (e: PointerEvent) => [number, number] }) {
  const v = s.grade.value?.vignette;
  if (!v || v.off) return null;
  const half = Math.hypot(width / 2 / v.aspect, height / 2);
  const ring = (r: number, cls: string) => <ellipse cx={v.centre[0] * width} cy={v.centre[1] * height} rx={r * half * v.aspect} ry={r * half} class={cls} />;
  const move = (x: number, y: number) => s.edit('vcentre', (g) => { g.vignette.centre = [clamp(x, 0, 1), clamp(y, 0, 1)]; });
  return (
    <svg class="ellipse" viewBox={`0 0 ${width} ${height}`} aria-hidden="false" role="group" aria-label="Vignette">
      {ring(v.inner, 'inner')}
      {ring(v.inner + v.softness, 'outer')}
      <circle
        cx={v.centre[0] * width}
        cy={v.centre[1] * height}
        r={height / 40}
        role="slider"
        tabindex={0}
        aria-label="Middle of the vignette"
        aria-valuenow={Math.round(100 * v.centre[0])}
        aria-valuetext={`${percent(v.centre[0])} across, ${percent(v.centre[1])} down`}
        onPointerDown={(e) => {
          const t = e.currentTarget;
          t.setPointerCapture(e.pointerId);
          t.onpointermove = (m) => move(...place(m));
          t.onpointerup = () => { t.onpointermove = null; };
        }}
        onKeyDown={(e) => {
          const d = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
          if (!d) return;
          move(v.centre[0] + 0.01 * (d[0] ?? 0), v.centre[1] + 0.01 * (d[1] ?? 0));
          e.preventDefault();
        }}
      />
    </svg>
  );
}

function FirstClip() {
  const running = Object.values(s.jobs.value).find((j) => j.kind === 'demo' && j.state === 'running');
  const clips = (s.started.value?.files ?? []).filter((f) => f.kind === 'clip');
  return (
    <main class="place first">
      <section class="empty">
        <h1>Begin with a clip</h1>
        {!s.started.value ? (
          <p>Reading the folder …</p>
        ) : clips.length ? (
          <ul class="pick">
            {clips.map((f) => (
              <li key={f.id}>
                <button type="button" onClick={() => void s.openClip(f.id)}>{f.name}</button> <small>{(f.bytes / 1e6).toFixed(1)} MB</small>
              </li>
            ))}
          </ul>
        ) : (
          <>
            <p>There is no clip in <b>{s.started.value.folders.join(', ')}</b>.</p>
            <p>Put your own clip there and load the page again, or start <code>lampwise serve FOLDER</code> with the folder it lies in.</p>
            <p>
              <button type="button" disabled={Boolean(running)} onClick={() => void s.attempt(() => api.demo({ folder: '0/example', size: 270 }))}>make the example here</button>{' '}
              <small>a bicycle mechanic's repair lesson in a one-car garage, generated: a switch clip and two episodes; a few minutes</small>
            </p>
            {running && <p role="status">{running.step?.what ?? 'beginning'} {running.step?.detail}</p>}
          </>
        )}
      </section>
    </main>
  );
}

function FirstGrade() {
  const [curve, setCurve] = useState(s.clip.value?.curve ?? '');
  const c = s.clip.value;
  if (!c) return null;
  const stem = c.id.replace(/\.[^./]*$/, '');
  const taken = (s.started.value?.files ?? []).map((f) => f.id);
  const grades = (s.started.value?.files ?? []).filter((f) => f.kind === 'grade');
  let file = `${stem}.toml`;
  for (let n = 2; taken.includes(file); n++) file = `${stem}-${n}.toml`;
  return (
    <main class="place first">
      <section class="empty">
        <h1>A starting grade for {c.id.slice(2)}</h1>
        <p>{c.width} × {c.height}, {c.bits} bits, {c.rate.toFixed(2)} frames/s, {c.duration_s.toFixed(1)} s. Which curve was it recorded with? The number is the camera manual's 10-bit code for 18 % grey.</p>
        <p>
          <label>camera curve <select value={curve} onChange={(e) => setCurve(e.currentTarget.value)}>
            <option value="">choose</option>
            {(s.started.value?.curves ?? []).map((x) => <option key={x} value={x}>{x}</option>)}
          </select></label>{' '}
          <button type="button" disabled={!curve} onClick={() => void s.attempt(async () => { s.takeGrade(await api.newGrade({ id: file, clip: c.id, curve })); await s.relist(); })}>write {file.slice(2)}</button>
        </p>
        {grades.length > 0 && (
          <p>
            Or open one that is there: {grades.map((f) => <button key={f.id} type="button" onClick={() => void s.openGrade(f.id)}>{f.name}</button>)}
          </p>
        )}
      </section>
    </main>
  );
}


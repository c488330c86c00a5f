// Lamps: the picture as the current mix through the grade, before it is shot.

import { effect } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import * as api from '../api/client.gen.ts';
import { ask } from '../api/post.ts';
import { clamp, percent, signed, stopsText } from '../core/stops.ts';
import { Screen } from '../gl/screen.ts';
import { Jobs } from './finish.tsx';
import { Ladder } from './ladder.tsx';
import { Empty } from './parts.tsx';
import * as s from './state.ts';

type Under = 'check' | 'targets' | 'learn' | 'card';
const words: Record<Under, string> = { check: 'set check', targets: 'targets', learn: 'learn a set', card: 'set card' };

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
        {under === 'learn' && <Learn />}
        {under === 'card' && <Card set={set} />}
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

/** What a lamp gives most of: "71 % of face-lit". */
function most(l: api.LampReport): string {
  const [region, share] = Object.entries(l.share).filter(([r]) => r !== 'frame').sort((a, b) => b[1] - a[1])[0] ?? ['', 0];
  return share >= 0.005 ? `${percent(share)} of ${region}` : 'too faint to tell';
}

function colourText(l: api.LampReport): string {
  if (l.cct) return `${Math.round(l.cct / 10) * 10} K${l.duv && Math.abs(l.duv) > 0.006 ? `, ${l.duv > 0 ? 'greenish' : 'pinkish'}` : ''}`;
  if (l.mired_to_key !== null) return Math.abs(l.mired_to_key) < 1 ? 'as the key' : `${signed(l.mired_to_key, 0)} mired to key`;
  return 'coloured';
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
      <output>
        {percent(dimmer)} <small>{level > 0 ? `${signed(Math.log2(level))} stop` : 'off'}</small>
      </output>
      <span class="level">
        <input
          type="range"
          min={0}
          max={1}
          step={0.005}
          value={level}
          aria-label={`Level of ${l.name}`}
          aria-valuetext={level > 0 ? `${percent(dimmer)} of the dimmer, ${signed(Math.log2(level))} stop` : 'off'}
          onInput={(e) => {
            const next = [...s.levels.value];
            next[i] = Number(e.currentTarget.value);
            s.setLevels(next, `level ${i}`);
          }}
        />
        <button type="button" aria-pressed={view.kind === 'alone' && view.lamp === i} aria-label={`${l.name} alone`} onClick={look('alone')}>alone</button>
        <button type="button" aria-pressed={view.kind === 'without' && view.lamp === i} aria-label={`without ${l.name}`} onClick={look('without')}>without</button>
      </span>
    </li>
  );
}

/** A lamp's number on a disc of its colour beside the key's. */
function Chip({ tint, n }: { tint: [number, number] | null; n: number }) {
  const [r, b] = tint ?? [0, 0];
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

function Check() {
  const files = (s.started.value?.files ?? []).filter((f) => f.kind === 'clip' || f.kind === 'still');
  const [file, choose] = useState(files.find((f) => /episode/.test(f.name) && !/finished/.test(f.name))?.id ?? files[0]?.id ?? '');
  const last = Object.values(s.jobs.value).filter((j) => j.kind === 'check').sort((a, b) => Number(b.id) - Number(a.id))[0];
  const r = last?.state === 'done' ? (last.result as api.Checked) : null;
  return (
    <section class="check" aria-label="Set check">
      <p>
        <label>
          today's clip or still <select value={file} onChange={(e) => choose(e.currentTarget.value)}>
            {files.map((f) => <option key={f.id} value={f.id}>{f.name}</option>)}
          </select>
        </label>{' '}
        <button type="button" class="main" disabled={!file || last?.state === 'running'} onClick={() => void s.attempt(() => api.check({ file, set: s.setName.value }))}>check the set</button>
      </p>
      {!r && <Jobs kinds={['check']} />}
      {!last && <p class="note">Says which lamp is off by how much, and what to turn. The reference is the set as it was learned.</p>}
      {r && <Verdict r={r} />}
    </section>
  );
}

const verdicts: Record<string, string> = { same: 'The set is as it was.', drift: 'The set is not as it was.', unsure: 'It can’t be said safely.' };

function Verdict({ r }: { r: api.Checked }) {
  return (
    <div class="verdict">
      <div>
        <h3>{verdicts[r.verdict] ?? r.verdict}</h3>
        {r.advice.length > 0 ? (
          <>
            <h4>do this</h4>
            <ol>{r.advice.map((a) => <li key={a}>{a}</li>)}</ol>
          </>
        ) : (
          <p>Nothing to do.</p>
        )}
        {r.reasons.map((x) => <p key={x} class="note">{x}</p>)}
      </div>
      <table>
        <thead><tr><th>lamp</th><th>stops</th><th>mired</th><th>verdict</th></tr></thead>
        <tbody>
          {r.lamps.map((l) => (
            <tr key={l.name} class={l.act ? 'act' : ''}>
              <th scope="row">{l.name}</th>
              <td>{l.stops === null ? '–' : signed(l.stops)}{l.se !== null && <small> ± {l.se.toFixed(2)}</small>}</td>
              <td>{l.mired === null ? '–' : signed(l.mired, 0)}</td>
              <td>{l.verdict === 'same' ? 'as it was' : l.verdict}</td>
            </tr>
          ))}
          <tr><th scope="row">camera</th><td>{r.camera.gain_stops === null ? '–' : signed(r.camera.gain_stops)}</td><td>{r.camera.white_balance_mired === null ? '–' : signed(r.camera.white_balance_mired, 0)}</td><td>{r.camera.moved ? `moved ${Math.hypot(r.camera.dx, r.camera.dy).toFixed(1)} px` : 'where it was'}</td></tr>
        </tbody>
      </table>
    </div>
  );
}

function Targets({ set }: { set: api.ShownSet }) {
  const m = s.mix.value;
  const regions = set.regions.filter((r) => r.name !== 'frame');
  const reading = (name: string) => m?.readings.find((r) => r.region === name);
  const list = Object.entries(s.targets.value);
  const answer = s.solved.value;
  const solve = async () => {
    const r = await s.attempt(() => api.solve({ set: set.set, targets: list.map(([n, t]) => `${n}=${t.want.toFixed(2)} ±${t.tolerance}`) }));
    if (r) s.solved.value = r;
  };
  return (
    <section class="targets" aria-label="Targets">
      <div>
        <div class="chips">
          {regions.map((r) => {
            const on = s.targets.value[r.name] !== undefined;
            return (
              <button key={r.name} type="button" aria-pressed={on} onClick={() => {
                const next = { ...s.targets.value };
                if (on) delete next[r.name];
                else next[r.name] = { want: Math.round(20 * (reading(r.name)?.scene ?? 0)) / 20, tolerance: 0.15 };
                s.setTargets(next, 'targets');
              }}>{r.name}</button>
            );
          })}
        </div>
        {list.length === 0 ? (
          <p class="note">Choose what should read what: a bracket appears on the ladder, to be dragged.</p>
        ) : (
          <ul class="wants">
            {list.map(([name, t]) => (
              <li key={name}>
                <span>{name}</span> now {signed(reading(name)?.scene ?? 0)}, wanted{' '}
                <input type="number" step={0.05} min={-9} max={7} value={t.want} aria-label={`Target for ${name}, stops from grey`} onInput={(e) => { s.setTargets({ ...s.targets.value, [name]: { ...t, want: Number(e.currentTarget.value) } }, `want ${name}`); }} /> ±{' '}
                <input type="number" step={0.05} min={0.05} max={2} value={t.tolerance} aria-label={`Tolerance for ${name}, stops`} onInput={(e) => { s.setTargets({ ...s.targets.value, [name]: { ...t, tolerance: Number(e.currentTarget.value) } }, `tolerance ${name}`); }} /> stop
              </li>
            ))}
          </ul>
        )}
        <p class="buttons"><button type="button" class="main" disabled={list.length === 0} onClick={() => void solve()}>solve for targets</button></p>
      </div>
      {answer && (
        <div class="answer" role="status">
          <h3>{answer.met ? 'Every target is met.' : 'Not every target can be met.'}</h3>
          <ul>
            {answer.levels.map((l) => (
              <li key={l.name}>
                <b>{l.name}</b> {percent(l.dimmer_before)} → {percent(l.dimmer)} <small>{l.off ? 'switch it off' : l.stops === null ? '' : `${signed(l.stops)} stop`}{l.until ? `, turn it ${l.until}` : ''}</small>
              </li>
            ))}
          </ul>
          {answer.targets.filter((t) => !t.met && t.reason).map((t) => <p key={t.target} class="note">{t.region}: {t.reason}</p>)}
          <button type="button" onClick={() => { s.setLevels(answer.levels.map((l) => l.level), 'solved'); }}>show this mix</button>
        </div>
      )}
    </section>
  );
}

function Learn() {
  const clips = (s.started.value?.files ?? []).filter((f) => f.kind === 'clip');
  const [clip, choose] = useState(clips.find((f) => /switch/.test(f.name))?.id ?? clips[0]?.id ?? '');
  const [name, call] = useState('garage');
  const [order, say] = useState('');
  const [curve, pick] = useState(s.grade.value?.decode.curve ?? '');
  const taken = (s.started.value?.sets ?? []).some((x) => x.name === name);
  const last = Object.values(s.jobs.value).filter((j) => j.kind === 'learn').sort((a, b) => Number(b.id) - Number(a.id))[0];
  const done = last?.state === 'done' ? (last.result as api.LearnedSet) : null;
  if (!clips.length) return <p>There is no clip in this folder. Film one and put it there; <code>lampwise learn --advise 5</code> says how to switch.</p>;
  return (
    <section class="learn" aria-label="Learn a set">
      <form onSubmit={(e) => {
        e.preventDefault();
        void s.attempt(() => api.learn({ clip, set: name, order, curve, overwrite: taken }));
      }}>
        <label>switch clip <select value={clip} onChange={(e) => choose(e.currentTarget.value)}>{clips.map((f) => <option key={f.id} value={f.id}>{f.name}</option>)}</select></label>
        <label>camera curve <select value={curve} onChange={(e) => pick(e.currentTarget.value)}><option value="">as said before</option>{(s.started.value?.curves ?? []).map((c) => <option key={c} value={c}>{c}</option>)}</select></label>
        <label>call the set <input type="text" required pattern="[A-Za-z0-9_]([A-Za-z0-9_\-]*[A-Za-z0-9_])?" value={name} onInput={(e) => call(e.currentTarget.value)} /></label>
        <label class="wide">what was switched, hold after hold <input type="text" placeholder="all, -key, all, -fill, all, dark" value={order} onInput={(e) => say(e.currentTarget.value)} /></label>
        <button type="submit" class="main" disabled={last?.state === 'running'}>{taken ? 'learn it anew' : 'learn'}</button>
        <small>{taken ? 'The set of that name and its history of checks are replaced.' : 'Left empty, the order is taken from the caller’s beeps on the sound track, or guessed from the light.'}</small>
      </form>
      <Jobs kinds={['learn']} />
      {done && <Holds done={done} />}
    </section>
  );
}

/** The holds as a strip, lamps to be named. */
function Holds({ done }: { done: api.LearnedSet }) {
  const [names, set] = useState<Record<string, string>>({});
  const pairs = Object.entries(names).filter(([old, n]) => n && n !== old).map(([old, n]) => `${old}=${n}`);
  return (
    <div>
      <ol class="holds">
        {done.holds.map((h) => (
          <li key={h.start}>
            <b>{h.start.toFixed(1)} s</b> <small>{h.on.length ? h.on.join(' + ') : 'ambient alone'}</small>
          </li>
        ))}
      </ol>
      <p class="names">
        {done.lamps.map((l) => (
          <label key={l.name}>
            {l.name} <input type="text" size={8} placeholder={l.name} value={names[l.name] ?? ''} onInput={(e) => set({ ...names, [l.name]: e.currentTarget.value })} />
          </label>
        ))}
        <button type="button" disabled={!pairs.length} onClick={() => void s.attempt(async () => { await api.rename({ set: done.set, pairs }); await s.relist(); await s.openSet(done.set); })}>give these names</button>
        <button type="button" onClick={() => void s.openSet(done.set)}>open this set</button>
      </p>
    </div>
  );
}

function Card({ set }: { set: api.ShownSet }) {
  return (
    <section class="card" aria-label="Set card">
      <h3>{set.set} <small>learned {new Date(set.learned).toLocaleDateString()} from {set.clip}, {set.curve}</small></h3>
      <div class="cols">
        <table>
          <thead><tr><th>lamp</th><th>dimmer</th><th>colour</th><th>gives</th></tr></thead>
          <tbody>{set.lamps.map((l) => <tr key={l.name}><th scope="row">{l.name}</th><td>{percent(l.dimmer)}{l.dimmer_known ? '' : ' if even'}</td><td>{colourText(l)}</td><td>{most(l)}</td></tr>)}</tbody>
        </table>
        <table>
          <thead><tr><th>region</th><th>reads</th></tr></thead>
          <tbody>{set.readings.filter((r) => r.region !== 'frame').map((r) => <tr key={r.region}><th scope="row">{r.region}</th><td>{stopsText(r.stops)}</td></tr>)}</tbody>
        </table>
      </div>
      {set.additivity !== null && <p class="note">Light adds: a hold is predicted from the others to {set.additivity.toFixed(4)} stop.</p>}
    </section>
  );
}

// Room: planned before any lamp is hung or bought.

import { useState } from 'preact/hooks';
import type * as api from '../api/client.gen.ts';
import { figure } from '../core/room.ts';
import { signed } from '../core/stops.ts';
import { Ladder } from './ladder.tsx';
import { Choice, Dial, Empty, LevelRuler, LevelText } from './parts.tsx';
import { Below } from './roombelow.tsx';
import * as r from './roomstate.ts';
import { RoomView, shade } from './roomview.tsx';
import * as s from './state.ts';

export function Room() {
  const files = (s.started.value?.files ?? []).filter((f) => f.kind === 'plan');
  if (!s.started.value) return <main class="place first"><Empty title="Room"><p>Reading …</p></Empty></main>;
  const room = r.room.value;
  if (!room) return <main class="place first">{files.length > 0 ? <Empty title="Room"><p>Opening the plan …</p></Empty> : <Begin />}</main>;
  const e = room.figures.exposure;
  return (
    <main class="place room">
      <aside class="left" aria-label="Lamps and camera of the plan">
        <p class="pickset">
          <label>
            plan <select value={r.id.value} onChange={(x) => void r.open(x.currentTarget.value)}>
              {!files.some((f) => f.id === r.id.value) && <option value={r.id.value}>{r.id.value}</option>}
              {files.map((f) => <option key={f.id} value={f.id}>{f.name}</option>)}
            </select>
          </label>
          <button type="button" class="main" disabled={!r.unsaved.value} onClick={() => void r.save()}>save plan</button>
        </p>
        <ul class="rows">{room.plan.lamp.map((l, i) => <Row key={`${l.name} ${i}`} l={l} f={room.figures.lamps[i] as api.PlannedLamp} i={i} />)}</ul>
        <Add room={room} />
        <Chosen room={room} />
      </aside>
      <div class="mid">
        <RoomView />
        {r.refused.value && <p class="failed" role="alert"><b>{r.refused.value.message}</b> {r.refused.value.hint}</p>}
      </div>
      <aside class="right" aria-label="Ladder">
        <Ladder
          height={s.ladderHeight.value}
          ladder={[]}
          sceneOnly
          marks={room.figures.readings.filter((x) => x.stops !== null).map((x) => ({ name: x.region, scene: x.stops ?? 0, screen: x.stops ?? 0, hollow: true, doubt: x.se, measured: r.met.value?.readings.find((m) => m.region === x.region)?.measured_stops }))}
          clip={e.clip_stops}
          measured={room.plan.camera.clip_stops !== undefined}
          floor={e.floor_stops}
        />
        <p class="note legend"><span><i class="hollow" /> planned</span>{r.met.value && <span><i /> measured in {r.met.value.set}</span>}</p>
      </aside>
      <Below room={room} />
    </main>
  );
}

/** The empty state: a plan to begin from. */
function Begin() {
  const [name, set] = useState('room');
  const file = `0/${name.trim().replace(/\.toml$/, '')}.toml`;
  return (
    <Empty title="No plan of the room yet">
      <p>A plan says before anything is hung what every place will read: a room’s measures, where the lamps stand, the camera. It is a text file that you can read; what is dragged here is written into it.</p>
      <p><label>call it <input type="text" value={name} onInput={(e) => set(e.currentTarget.value)} /></label></p>
      <p class="buttons">
        <button type="button" class="main" disabled={!name.trim()} onClick={() => void r.begin(file, false)}>a plain room, one key and a fill</button>
        <button type="button" disabled={!name.trim()} onClick={() => void r.begin(file, true)}>the mechanic’s garage, with notes</button>
      </p>
    </Empty>
  );
}

function Row({ l, f, i }: { l: api.LampPlan; f: api.PlannedLamp; i: number }) {
  const key = `lamp.${i}`;
  const level = (r.moving.value[`${key}.level`] as number | undefined) ?? f.level;
  const strongest = Object.entries(f.stops).filter((x): x is [string, number] => x[1] !== null).sort((a, b) => b[1] - a[1])[0];
  const on = r.chosen.value === key;
  return (
    <li class={`lamp${on ? ' on' : ''}`}>
      <i class={f.shown_bt709 ? 'chip' : 'chip plain'} style={f.shown_bt709 ? { background: shade(f.shown_bt709) } : undefined} aria-hidden="true">{i + 1}</i>
      <div>
        <button type="button" class="plainly" aria-pressed={on} onClick={() => { r.chosen.value = key; }}>{l.name}</button>
        <small>{f.cct ? `${Math.round(f.cct / 10) * 10} K · ` : ''}{strongest ? `${strongest[0]} ${signed(strongest[1], 1)}` : 'no light'}</small>
      </div>
      <LevelText shown={level} level={level} />
      <span class="level">
        <LevelRuler name={l.name} level={level} shown={level} of="its light" set={(v) => r.change(`${key}.level`, { key: `${key}.level`, value: v })} />
      </span>
    </li>
  );
}

function Add({ room }: { room: api.LivePlan }) {
  const [kind, choose] = useState('');
  const kinds = r.kinds.value;
  const about = kinds.find((k) => k.name === kind);
  return (
    <p class="add">
      <label>
        another lamp <select value={kind} onChange={(e) => choose(e.currentTarget.value)}>
          <option value="">which kind …</option>
          {kinds.map((k) => <option key={k.name} value={k.name}>{k.name}: {k.says}</option>)}
        </select>
      </label>
      <button
        type="button"
        disabled={!about}
        onClick={() => {
          const n = room.plan.lamp.length;
          const names = room.plan.lamp.map((l) => l.name);
          let name = kind;
          for (let k = 2; names.includes(name); k++) name = `${kind}-${k}`;
          const { width, depth, height } = room.plan.room;
          r.change(`lamp.${n}`, { key: `lamp.${n}`, value: { name, kind, at: [Number((0.75 * width).toFixed(2)), Number((0.4 * depth).toFixed(2)), Number((0.75 * height).toFixed(2))] } });
          r.chosen.value = `lamp.${n}`;
        }}
      >
        add
      </button>
      {about && <small>{about.says}; taken for granted: {about.assumes}</small>}
    </p>
  );
}

/** The settings of what is chosen, in numbers. */
function Chosen({ room }: { room: api.LivePlan }) {
  const key = r.chosen.value;
  const i = key.startsWith('lamp.') ? Number(key.slice(5)) : -1;
  const l = room.plan.lamp[i];
  if (l) {
    const f = room.figures.lamps[i] as api.PlannedLamp;
    return (
      <section class="chosen" aria-label={`Settings of ${l.name}`}>
        <h3>{l.name} <small>{f.distance_m.toFixed(2)} m from the face{f.mired_to_key !== null && Math.abs(f.mired_to_key) >= 1 ? ` · ${signed(f.mired_to_key, 0)} mired to key` : ''}</small></h3>
        <Place of={`${key}.at`} at={l.at} />
        {l.shape !== 'ball' && <Aim of={key} aim={l.aim} />}
        <p class="buttons">
          <button type="button" disabled={room.plan.lamp.length < 2} onClick={() => { r.change(`${key} out`, { key, value: null }); r.chosen.value = 'lamp.0'; }}>take {l.name} out</button>
        </p>
      </section>
    );
  }
  if (key === 'subject') {
    return (
      <section class="chosen" aria-label="Settings of the subject">
        <h3>subject <small>{room.figures.lens.subject_m.toFixed(2)} m from the lens</small></h3>
        <Figure name="x" unit="m" value={room.plan.subject.at[0] ?? 0} set={(v) => r.change('subject', { key: 'subject.at', value: [v, room.plan.subject.at[1] ?? 0] })} />
        <Figure name="y" unit="m" value={room.plan.subject.at[1] ?? 0} set={(v) => r.change('subject', { key: 'subject.at', value: [room.plan.subject.at[0] ?? 0, v] })} />
        <Figure name="eyes" unit="m" value={room.plan.subject.eyes} set={(v) => r.change('subject', { key: 'subject.eyes', value: v })} />
        <Figure name="moves to each side" unit="m" value={room.plan.subject.move} set={(v) => r.change('subject', { key: 'subject.move', value: v })} />
      </section>
    );
  }
  return <Camera room={room} />;
}

const stopsOfLens = [1, 1.4, 1.8, 2, 2.8, 4, 5.6, 8, 11, 16, 22];

function Camera({ room }: { room: api.LivePlan }) {
  const c = room.plan.camera;
  const e = room.figures.exposure;
  const put = (name: string) => (v: number) => r.change(`camera.${name}`, { key: `camera.${name}`, value: v });
  const near = stopsOfLens.includes(c.f) ? stopsOfLens : [...stopsOfLens, c.f].sort((a, b) => a - b);
  return (
    <section class="chosen" aria-label="Settings of the camera">
      <h3>camera <small>grey at {e.grey_lux.toFixed(0)} lx{e.is_mains_safe ? '' : ' · time not safe from mains flicker'}</small></h3>
      <Choice name="f-number" value={String(c.f)} options={near.map((n) => [String(n), `f/${n}`])} set={(v) => put('f')(Number(v))} />
      <Dial name="ND" unit="stop" value={c.nd_stops} min={0} max={10} step={1 / 3} ticks={1} digits={1} about="A neutral density filter; 1 stop is a density of 0.3" set={(v) => put('nd_stops')(Math.round(v * 100) / 100)} />
      <Figure name="sensitivity" unit="ISO" value={c.sensitivity} step={10} set={put('sensitivity')} />
      {c.shutter_deg ? <Figure name="shutter" unit="°" value={c.shutter_deg} step={1} set={put('shutter_deg')} /> : <Figure name="shutter" unit="s" value={c.shutter_s ?? 0} step={0.001} set={put('shutter_s')} />}
      <Figure name="focal length" unit="mm" value={c.focal_mm} step={1} set={put('focal_mm')} />
      {c.white_balance !== undefined && c.white_balance > 0 && <Figure name="white balance" unit="K" value={c.white_balance} step={100} set={put('white_balance')} />}
      <Place of="camera.at" at={c.at} />
    </section>
  );
}

function Figure(p: { name: string; unit: string; value: number; step?: number; set: (v: number) => void }) {
  return (
    <label class="number">
      {p.name} <span><input type="number" step={p.step ?? 0.05} value={figure(p.value, 3)} onChange={(e) => { const v = Number(e.currentTarget.value); if (e.currentTarget.value !== '' && Number.isFinite(v)) p.set(v); }} /> {p.unit}</span>
    </label>
  );
}

function Place({ of, at }: { of: string; at: number[] }) {
  const put = (i: number) => (v: number) => r.change(of, { key: of, value: at.map((x, k) => (k === i ? v : x)) });
  return (
    <div class="xyz">
      {['right', 'deep', 'high'].map((n, i) => <Figure key={n} name={n} unit="m" value={at[i] ?? 0} set={put(i)} />)}
    </div>
  );
}

const ways: [string, string][] = [['face', 'the face'], ['hair', 'the hair'], ['background', 'the background'], ['down', 'down'], ['up', 'up'], ['left', 'left'], ['right', 'right'], ['front', 'to the front'], ['back', 'to the back']];

function Aim({ of, aim }: { of: string; aim: unknown }) {
  const word = typeof aim === 'string' ? aim : Array.isArray(aim) ? '' : 'face';
  return (
    <Choice
      name="aimed at"
      value={word}
      options={word === '' ? [['', `a place: ${(aim as number[]).map((x) => x.toFixed(2)).join(', ')} m`], ...ways] : ways.some(([w]) => w === word) ? ways : [[word, word], ...ways]}
      set={(v) => { if (v) r.change(`${of}.aim`, { key: `${of}.aim`, value: v }); }}
    />
  );
}

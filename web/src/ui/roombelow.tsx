// What stands below the room's drawings: power and cautions always, and one of
// readings, light and colour, what is wanted, the text.

import { useState } from 'preact/hooks';
import type * as api from '../api/client.gen.ts';
import { percent, signed } from '../core/stops.ts';
import { BesideSet } from './roomset.tsx';
import * as r from './roomstate.ts';

type Tab = 'readings' | 'lamps' | 'wanted' | 'lens' | 'set' | 'text';
const words: Record<Tab, string> = { readings: 'readings', lamps: 'light and colour', wanted: 'what is wanted', lens: 'lens and exposure', set: 'beside a set', text: 'as text' };
const stop = (x: number | null | undefined, digits = 1) => (x === null || x === undefined ? '–' : signed(x, digits));

export function Below({ room }: { room: api.LivePlan }) {
  const [tab, show] = useState<Tab>('readings');
  return (
    <div class="under">
      <section class="tabbed" aria-label={words[tab]}>
        <nav class="turns" aria-label="Below the drawings">
          {(Object.keys(words) as Tab[]).map((t) => <button key={t} type="button" aria-pressed={tab === t} onClick={() => show(t)}>{words[t]}</button>)}
        </nav>
        {tab === 'readings' && <Readings f={room.figures} />}
        {tab === 'lamps' && <Light f={room.figures} />}
        {tab === 'wanted' && <Wanted room={room} />}
        {tab === 'lens' && <Lens f={room.figures} />}
        {tab === 'set' && <BesideSet room={room} />}
        {tab === 'text' && <Text />}
      </section>
      <Power f={room.figures} />
    </div>
  );
}

/** Load and cautions: in view whatever else is shown. */
function Power({ f }: { f: api.Planned }) {
  return (
    <section class="power" aria-label="Power and cautions" tabIndex={0}>
      <h3>power and cautions</h3>
      {f.power.circuits.map((c) => (
        <p key={c.name} class={c.over ? 'act' : ''}>
          <b>{c.name}</b> {c.watts.toFixed(0)} W: {c.amperes.toFixed(1)} A of {c.limit_a.toFixed(1)} A <small>80 % of its {c.breaker_a.toFixed(0)} A breaker</small>
          <meter min={0} max={c.breaker_a} high={c.limit_a} value={c.amperes} aria-label={`Load of circuit ${c.name}`} />
        </p>
      ))}
      <ul>{f.cautions.map((c) => <li key={c}>{c}</li>)}</ul>
      {f.notes.length > 0 && <ul>{f.notes.map((n) => <li key={n} class="note">{n}</li>)}</ul>}
    </section>
  );
}

function Readings({ f }: { f: api.Planned }) {
  const q = f.ratios;
  return (
    <>
      <p class="note">
        {q.key_to_fill !== null && `key-to-fill ${q.key_to_fill.toFixed(1)} : 1`}
        {q.key_to_background_stops !== null && ` · key-to-background ${stop(q.key_to_background_stops)} stop`}
        {q.room_lifts_shade_stops !== null && ` · the room's walls lift the shaded side ${stop(q.room_lifts_shade_stops)} stop`}
      </p>
      <table>
        <thead><tr><th>place</th><th>lx</th><th>stops from grey</th><th>by way of the room</th><th /></tr></thead>
        <tbody>
          {f.readings.map((x) => (
            <tr key={x.region} class={x.clipped || x.in_noise ? 'act' : ''}>
              <th scope="row">{x.region}</th>
              <td>{x.lux.toFixed(x.lux < 10 ? 1 : 0)}</td>
              <td>{stop(x.stops, 2)} <small>± {x.se.toFixed(1)}</small></td>
              <td>{percent(x.bounced_share)}</td>
              <td>{x.clipped ? 'clips' : x.in_noise ? 'in the noise' : ''}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {f.falloff.length > 0 && <p class="note">When the head moves {f.falloff[0]?.metres} m: {f.falloff.map((x) => `${x.region} ${x.toward} ${signed(x.stops, 2)}`).join(' · ')}</p>}
    </>
  );
}

function Light({ f }: { f: api.Planned }) {
  const regions = f.readings.map((x) => x.region);
  return (
    <table>
      <thead><tr><th>lamp alone</th>{regions.map((x) => <th key={x}>{x}</th>)}<th>on the screen it looks</th><th>lm at full</th></tr></thead>
      <tbody>
        {f.lamps.map((l) => (
          <tr key={l.name}>
            <th scope="row">{l.name}</th>
            {regions.map((x) => <td key={x}>{stop(l.stops[x])}</td>)}
            <td>{l.looks}{l.mired_to_white !== null && <small> {signed(l.mired_to_white, 0)} mired to white</small>}</td>
            <td>{l.lumens.toFixed(0)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function Wanted({ room }: { room: api.LivePlan }) {
  const now = (room.plan.targets ?? []).join('\n');
  const [text, set] = useState(now);
  const list = text.split('\n').map((x) => x.trim()).filter(Boolean);
  const a = r.solved.value;
  const take = () => {
    if (!a) return;
    const changes = a.levels.flatMap((x) => {
      const i = room.plan.lamp.findIndex((l) => l.name === x.name);
      return i < 0 ? [] : [{ key: `lamp.${i}.level`, value: x.off ? 0 : x.level }];
    });
    for (const m of a.moves) {
      const i = room.plan.lamp.findIndex((l) => l.name === m.name);
      if (i >= 0) changes.push({ key: `lamp.${i}.at`, value: m.at } as never);
    }
    if (a.nd_stops) changes.push({ key: 'camera.nd_stops', value: room.plan.camera.nd_stops + a.nd_stops });
    r.change('solved', ...changes, ...(text === now ? [] : [{ key: 'targets', value: list }]));
  };
  return (
    <div class="wanted">
      <p>
        <label for="wanted">one wish a line</label>
        <textarea id="wanted" rows={4} value={text} placeholder={'face-lit=+0.5 ±0.1\nface-lit/face-shade=2\nbackground=-1.5'} onInput={(e) => set(e.currentTarget.value)} />
        <button type="button" class="main" disabled={!list.length} onClick={() => void r.solve(list)}>find the levels</button>
      </p>
      {a ? (
        <div>
          <p><b>{a.met ? 'All is met.' : 'Not all can be met.'}</b> {a.nd_stops !== 0 && `With ${signed(a.nd_stops, 1)} stop of ND (or f/${a.f.toFixed(1)}).`}</p>
          <ul class="cols2">{a.levels.map((x) => <li key={x.name}>{x.name}: {percent(x.dimmer_before)} → <b>{x.off ? 'off' : percent(x.level)}</b></li>)}</ul>
          {a.moves.map((m) => <p key={m.name}>{m.name}: from {m.from_m.toFixed(2)} to {m.to_m.toFixed(2)} m; {m.why}</p>)}
          {a.targets.filter((t) => !t.met).map((t) => <p key={t.target} class="act">{t.target}: {t.reason}</p>)}
          <button type="button" onClick={take}>take these into the plan</button>
        </div>
      ) : <p class="note">Levels first, then distances, then ND. Nothing is changed before you take it.</p>}
    </div>
  );
}

function Lens({ f }: { f: api.Planned }) {
  const { lens: l, exposure: e } = f;
  const rows: [string, string][] = [
    ['sees', `${l.angle_h_deg.toFixed(1)}° × ${l.angle_v_deg.toFixed(1)}°; ${l.frame_width_m.toFixed(2)} × ${l.frame_height_m.toFixed(2)} m at the subject`],
    ['sharp', `${l.near_m.toFixed(2)} m to ${l.far_m === null ? 'infinity' : `${l.far_m.toFixed(2)} m`}; the subject at ${l.subject_m.toFixed(2)} m ${l.subject_sharp ? 'is' : 'is not'}`],
    ['head', `${percent(l.head_share)} of the picture’s height`],
    ['background', `${l.background_m.toFixed(2)} m away, blurred over ${percent(l.background_blur_share, 1)} of the height`],
    ['grey', `an 18 % card reads grey at ${e.grey_lux.toFixed(0)} lx; the card at the face is ${stop(e.card_stops)} stop from it`],
    ['clip', e.clip_stops === null ? 'not known' : `${stop(e.clip_stops)} stop (${e.clip_from}); ${stop(e.headroom_stops)} stop above the brightest place`],
    ['mains', e.is_mains_safe ? `1/${(1 / e.time_s).toFixed(0)} s is safe at ${e.mains_hz} Hz` : `1/${(1 / e.time_s).toFixed(0)} s is not safe at ${e.mains_hz} Hz: ${e.mains_safe.slice(0, 4).map((x) => `1/${(1 / x.time_s).toFixed(0)}`).join(', ')} s are`],
  ];
  return <table><tbody>{rows.map(([a, b]) => <tr key={a}><th scope="row">{a}</th><td>{b}</td></tr>)}</tbody></table>;
}

function Text() {
  const [draft, set] = useState<string | null>(null);
  const [name, rename] = useState('');
  const now = draft ?? r.text.value;
  return (
    <div class="astext">
      <textarea aria-label="The plan as text" spellcheck={false} rows={9} value={now} onInput={(e) => set(e.currentTarget.value)} />
      <p class="buttons">
        <button type="button" disabled={draft === null || draft === r.text.value} onClick={() => void r.write(now).then(() => { if (!r.refused.value) set(null); })}>take the text</button>
        <button type="button" disabled={draft === null} onClick={() => set(null)}>put it back</button>
        <label>save as <input type="text" value={name} placeholder="another name" onInput={(e) => rename(e.currentTarget.value)} /></label>
        <button type="button" disabled={!name.trim()} onClick={() => void r.save(`${r.id.value.replace(/[^/]*$/, '')}${name.trim().replace(/\.toml$/, '')}.toml`)}>save as</button>
      </p>
    </div>
  );
}

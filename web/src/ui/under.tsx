// What stands below the mix: set check, targets, learning, the set card.

import { useState } from 'preact/hooks';
import * as api from '../api/client.gen.ts';
import { percent, signed, stopsText } from '../core/stops.ts';
import { Jobs } from './finish.tsx';
import { Holds, Strip } from './holds.tsx';
import * as s from './state.ts';

/** What a lamp gives most of: "71 % of face-lit". */
export function most(l: api.LampReport): string {
  const [region, share] = Object.entries(l.share).filter(([r]) => r !== 'frame').sort((a, b) => b[1] - a[1])[0] ?? ['', 0];
  return share >= 0.005 ? `${percent(share)} of ${region}` : 'too faint to tell';
}

export function colourText(l: api.LampReport): string {
  if (l.cct) return `${Math.round(l.cct / 10) * 10} K${l.duv && Math.abs(l.duv) > 0.006 ? `, ${l.duv > 0 ? 'greenish' : 'pinkish'}` : ''}`;
  if (l.mired_to_key !== null) return Math.abs(l.mired_to_key) < 1 ? 'as the key' : `${signed(l.mired_to_key, 0)} mired to key`;
  return 'coloured';
}

export function Check() {
  const [same, looked] = useState(false);
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
        <label title="Light alone can't tell a camera that is set brighter from lamps that all are. With this said, more lamps can be named."><input type="checkbox" checked={same} onChange={(e) => looked(e.currentTarget.checked)} /> I looked: the camera is set as it was</label>{' '}
        <button type="button" class="main" disabled={!file || last?.state === 'running'} onClick={() => void s.attempt(() => api.check({ file, set: s.setName.value, camera_same: same }))}>check the set</button>
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

export function Targets({ set }: { set: api.ShownSet }) {
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

export function Learn() {
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
      {last?.state === 'failed' && (last.result as api.HoldsFound | null)?.holds && (
        <>
          <p class="note">These holds were found. Say for each what was on, in their order, and learn again:</p>
          <Strip clip={last.title} curve={(last.result as api.HoldsFound).curve} holds={(last.result as api.HoldsFound).holds} />
        </>
      )}
      {done && last && <Holds done={done} clip={last.title} />}
    </section>
  );
}

export function Card({ set }: { set: api.ShownSet }) {
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

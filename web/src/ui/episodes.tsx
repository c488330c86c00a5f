// Episodes: the record of a set, so that a look holds for a year.

import { useEffect, useState } from 'preact/hooks';
import * as api from '../api/client.gen.ts';
import { signed } from '../core/stops.ts';
import { Beside } from './episodebeside.tsx';
import { OverTime } from './episodeplots.tsx';
import * as e from './episodestate.ts';
import { Jobs } from './finish.tsx';
import { Ladder, type Mark } from './ladder.tsx';
import { Empty } from './parts.tsx';
import * as s from './state.ts';

type View = 'clips' | 'time' | 'beside' | 'print' | 'add';
const words: Record<View, string> = { clips: 'clips', time: 'over time', beside: 'beside another', print: 'to print and hand on', add: 'another day …' };

export function Episodes() {
  const [view, show] = useState<View>('clips');
  useEffect(() => {
    (globalThis as unknown as { lampwise: unknown }).lampwise = { state: s, record: e };
  }, []);
  const sets = s.started.value?.sets ?? [];
  if (!s.started.value) return <main class="place first"><Empty title="Episodes"><p>Reading …</p></Empty></main>;
  if (!sets.length) {
    return (
      <main class="place first">
        <Empty title="No set is known yet">
          <p>An episode is a day’s clips brought to a set’s picture: checked, measured, matched, rendered and verified. It needs a set that was learned first.</p>
          <p><a href="#lamps">Learn a set on the Lamps page</a></p>
        </Empty>
      </main>
    );
  }
  const book = e.book.value;
  if (!book) return <main class="place first"><Empty title="Episodes"><p>Reading …</p></Empty></main>;
  const ep = e.now();
  const at = ep ? view : 'add';
  return (
    <main class="place episodes">
      <aside class="left" aria-label="Episodes of this set">
        <p class="pickset">
          <label>
            set <select value={s.setName.value} onChange={(x) => { e.episode.value = ''; void s.openSet(x.currentTarget.value); }}>
              {sets.map((x) => <option key={x.name} value={x.name}>{x.name}</option>)}
            </select>
          </label>
        </p>
        <ul class="days">
          {[...book.episodes].reverse().map((x) => (
            <li key={x.name}>
              <button type="button" aria-pressed={at !== 'add' && x.name === e.episode.value} onClick={() => { e.choose(x.name); if (at === 'add') show('clips'); }}>
                <b>{x.name}</b> <small>{day(x.made)}</small>
                <small>{counts(x)}</small>
              </button>
            </li>
          ))}
        </ul>
        <p class="buttons"><button type="button" aria-pressed={at === 'add'} onClick={() => show('add')}>{words.add}</button></p>
      </aside>
      <div class="record">
        {ep && at !== 'add' && (
          <>
            <h2>{ep.name} <small>{counts(ep)} · grade {base(ep.grade)} · written as {ep.preset}</small></h2>
            <nav class="turns" aria-label="What is shown of the episode">
              {(['clips', 'time', 'beside', 'print'] as View[]).map((v) => <button key={v} type="button" aria-pressed={at === v} onClick={() => show(v)}>{words[v]}</button>)}
            </nav>
          </>
        )}
        {ep && at === 'clips' && <Clips ep={ep} />}
        {at === 'time' && <OverTime />}
        {ep && at === 'beside' && <Beside ep={ep} />}
        {ep && at === 'print' && <Print ep={ep} />}
        {at === 'add' && <Add first={!book.episodes.length} begun={(name) => { e.episode.value = name; show('clips'); }} />}
      </div>
      <aside class="right" aria-label="Ladder"><Beam both={at === 'beside'} /></aside>
    </main>
  );
}

const day = (made: string) => new Date(made).toLocaleDateString(undefined, { day: 'numeric', month: 'short', year: 'numeric' });
const base = (f: string) => f.split(/[\\/]/).pop() ?? f;
function counts(x: { done: number; aside: number; waiting: number }): string {
  const parts = [`${x.done} done`];
  if (x.aside) parts.push(`${x.aside} set aside`);
  if (x.waiting) parts.push(`${x.waiting} to do`);
  return parts.join(' · ');
}

const RECORDED = ' as recorded';

/** The chosen clip's readings (solid) beside the set's own, or another day's (hollow). */
function Beam({ both }: { both: boolean }) {
  const c = e.clipNow();
  const set = s.set.value;
  const marks: Mark[] = [];
  const two = both ? e.compared.value : null;
  for (const r of two?.rows ?? []) {
    if (!r.what.endsWith(RECORDED) || r.unit !== 'stops from grey') continue;
    const name = r.what.slice(0, -RECORDED.length);
    if (r.value_b !== null) marks.push({ name, scene: r.value_b, screen: r.value_b });
    if (r.value_a !== null) marks.push({ name: `${name}, ${two?.a}`, quiet: r.value_b !== null, scene: r.value_a, screen: r.value_a, hollow: true });
  }
  if (!two) for (const r of c?.found?.readings ?? []) if (r.stops !== null && r.region !== 'frame') marks.push({ name: r.region, scene: r.stops, screen: r.stops });
  if (!two) for (const r of set?.readings ?? []) if (r.stops !== null && marks.some((m) => m.name === r.region)) marks.push({ name: `${r.region}, set`, quiet: true, scene: r.stops, screen: r.stops, hollow: true });
  const m = s.mix.value;
  return (
    <>
      <Ladder height={s.ladderHeight.value - 40} ladder={[]} sceneOnly marks={marks} clip={m?.clip_stops ?? null} measured={(m?.clip_stops ?? null) !== null} floor={m?.floor_stops ?? null} />
      <p class="note">{two ? `Solid: ${two.b} as recorded. Hollow: ${two.a}.` : c?.found && marks.length ? `Solid: ${base(c.file)} as recorded. Hollow: the set as it was learned.` : 'Nothing was read of this clip yet.'}</p>
    </>
  );
}

function Clips({ ep }: { ep: api.ShownEpisode }) {
  const working = Object.values(s.jobs.value).some((j) => j.kind === 'episode' && j.state === 'running');
  const aside = ep.clips.filter((c) => c.state === 'aside');
  const c = e.clipNow();
  return (
    <>
      {(ep.waiting > 0 || aside.length > 1) && <p class="buttons">
        {ep.waiting > 0 && <button type="button" class="main" disabled={working} onClick={() => void s.attempt(() => api.workEpisodes({ set: ep.set, name: ep.name }))}>go on with what is to do</button>}
        {aside.length > 1 && <button type="button" disabled={working} onClick={() => void s.attempt(() => api.retryEpisodes({ set: ep.set, name: ep.name, numbers: [], accept: false }))}>try all set aside again</button>}
      </p>}
      <Jobs kinds={['episode']} />
      <table class="clips">
        <thead><tr><th>clip</th><th>set check</th><th>brought by</th><th>left on face and background</th><th>verified</th><th /></tr></thead>
        <tbody>
          {ep.clips.map((x) => {
            const f = x.found;
            return (
              <tr key={x.number} class={x.number === e.clip.value ? 'on' : ''}>
                <th scope="row"><button type="button" class="plainly" aria-pressed={x.number === e.clip.value} onClick={() => { e.clip.value = x.number; }}>{base(x.file)}</button></th>
                <td>{f?.check ? verdict(f.check.verdict) : '–'}</td>
                <td>{f?.after ? <>{signed(f.exposure_stops)} stop{f.mired !== null && <small> {signed(f.mired, 0)} mired</small>}</> : '–'}</td>
                <td>{f?.after ? <>{f.after.stops.toFixed(2)} stop <small>ΔE00 {f.after.de00.toFixed(2)}</small></> : '–'}</td>
                <td>{f?.frames ? <>ΔE00 {f.verified_mean_de00.toFixed(2)} <small>{f.frames} frames</small></> : '–'}</td>
                <td>{x.state === 'done' ? 'done' : x.state === 'working' ? `at work: ${x.step ?? ''}` : x.state === 'aside' ? <b>set aside</b> : 'to do'}</td>
              </tr>
            );
          })}
        </tbody>
      </table>
      {c && <OneClip ep={ep} c={c} working={working} />}
    </>
  );
}

const verdict = (v: string) => (v === 'same' ? 'as it was' : v === 'drift' ? 'not as it was' : 'can’t be said');

function OneClip({ ep, c, working }: { ep: api.ShownEpisode; c: api.ShownClip; working: boolean }) {
  const f = c.found;
  const k = f?.check;
  return (
    <section class="oneclip" aria-label={`What was found of ${base(c.file)}`}>
      {c.state === 'aside' && (
        <p class="asides">
          <b>{base(c.file)} needs you:</b> {c.reason}{' '}
          <button type="button" disabled={working} onClick={() => void s.attempt(() => api.retryEpisodes({ set: ep.set, name: ep.name, numbers: [c.number], accept: false }))}>try it again</button>
          {f?.after && <>{' '}<button type="button" disabled={working} onClick={() => void s.attempt(() => api.retryEpisodes({ set: ep.set, name: ep.name, numbers: [c.number], accept: true }))}>take it as near as it comes</button></>}
        </p>
      )}
      {f && (
        <div class="cols">
          {k && (
            <div>
              <h4>lamps, against the set</h4>
              <table><tbody>
                {Object.entries(k.lamps_stops).map(([n, v]) => <tr key={n}><th scope="row">{n}</th><td>{v === null ? 'can’t be said' : `${signed(v)} stop`}</td></tr>)}
                <tr><th scope="row">ambient</th><td>{k.ambient_stops === null ? '–' : `${signed(k.ambient_stops)} stop`}</td></tr>
                <tr><th scope="row">camera</th><td>{k.gain_stops === null ? '–' : `${signed(k.gain_stops)} stop`}{k.white_balance_mired !== null && <small> {signed(k.white_balance_mired, 0)} mired</small>}{k.moved ? ', moved' : ''}</td></tr>
              </tbody></table>
            </div>
          )}
          {f.regions.length > 0 && (
            <div>
              <h4>from the reference, before → after</h4>
              <table><tbody>
                {f.regions.map((r) => <tr key={r.region}><th scope="row">{r.region}</th><td>{signed(r.stops_before)} → {signed(r.stops_after)} stop</td><td>ΔE00 {r.de00_before.toFixed(1)} → {r.de00_after.toFixed(1)}</td></tr>)}
              </tbody></table>
            </div>
          )}
          <div class="say">
            {k && k.advice.length > 0 && <><h4>before the next day</h4><ol>{k.advice.map((a) => <li key={a}>{a}</li>)}</ol></>}
            {f.problems.length > 0 && <><h4>seen in the clip</h4><ul>{f.problems.map((p) => <li key={`${p.kind}${p.from}`}>{p.what} <small>{p.advice}</small></li>)}</ul></>}
            {f.notes.map((n) => <p key={n} class="note">{n}</p>)}
          </div>
        </div>
      )}
    </section>
  );
}

function Print({ ep }: { ep: api.ShownEpisode }) {
  const grade = s.gradeFile.value;
  const clip = s.clip.value;
  const reports = Object.values(s.jobs.value).filter((j) => j.kind === 'report' && j.state === 'done' && (j.result as api.Reported).episode === ep.name);
  const handed = Object.values(s.jobs.value).filter((j) => j.kind === 'handoff' && j.state === 'done').at(-1);
  const plans = (s.started.value?.files ?? []).filter((f) => f.kind === 'plan');
  const [plan, planned] = useState((plans.find((f) => f.id === s.recall('room')) ?? plans[0])?.id ?? '');
  return (
    <div class="cols handing">
      <section>
        <h3>report</h3>
        <p>One page of the whole day: what each clip read, what was done to it, what is left.</p>
        <p class="buttons"><button type="button" onClick={() => void s.attempt(() => api.reportEpisodes({ set: ep.set, name: ep.name }))}>write the report</button></p>
        <Jobs kinds={['report']} />
        {reports.slice(-1).map((j) => <p key={j.id}><a href={`/api/document?file=${encodeURIComponent(j.title)}`} target="_blank" rel="noopener">open {base(j.title)}</a>, and print it</p>)}
      </section>
      <section>
        <h3>set card</h3>
        <p>One page for the wall of the room: the picture, levels, camera, what each region is to read, the exposure card.</p>
        {plans.length > 0 && <label>with the plan <select value={plan} onChange={(x) => planned(x.currentTarget.value)}><option value="">none</option>{plans.map((f) => <option key={f.id} value={f.id}>{f.name}</option>)}</select></label>}
        {grade ? <p><a href={`/api/setcard?set=${encodeURIComponent(ep.set)}&grade=${encodeURIComponent(grade)}&plan=${encodeURIComponent(plan)}`} target="_blank" rel="noopener">open the set card</a>, and print it</p> : <p class="note">Open a grade on the Picture page first: the card shows the mix through it.</p>}
      </section>
      <section>
        <h3>for the camera’s screen and for others</h3>
        <p>LUTs of {base(grade || 'the grade')} for a screen (17, 33 and 65 points, both levels conventions), the grade as Common LUT Format and as near as a CDL comes, stills.</p>
        <p class="buttons"><button type="button" disabled={!grade} onClick={() => void s.attempt(() => api.handoffEpisodes({ set: ep.set, grade, clip: clip?.id ?? '', folder: `${grade.split('/')[0]}/handoff` }))}>write them</button></p>
        <Jobs kinds={['handoff']} />
        {handed && <ul class="files">{(handed.result as api.HandedOff).files.map((x) => <li key={x.file}><b>{base(x.file)}</b> <small>{x.what}{x.error ? `; ΔE00 at most ${x.error.maxDE.toFixed(2)}` : ''}</small></li>)}</ul>}
      </section>
    </div>
  );
}

function Add({ first, begun }: { first: boolean; begun: (name: string) => void }) {
  const files = (s.started.value?.files ?? []).filter((f) => f.kind === 'clip' && !/switch/.test(f.name) && !/(^|\/)finished\//.test(f.name) && !/-finished\./.test(f.name));
  const grades = (s.started.value?.files ?? []).filter((f) => f.kind === 'grade');
  const used = new Set((e.book.value?.episodes ?? []).flatMap((x) => x.clips.map((c) => base(c.file))));
  const [ticked, tick] = useState<string[]>(files.filter((f) => !used.has(base(f.name))).map((f) => f.id));
  const [name, call] = useState('');
  const [grade, by] = useState(s.gradeFile.value || grades[0]?.id || '');
  const [preset, as] = useState('');
  const [within, may] = useState({ stops: 0.1, de00: 1.5 });
  const [plan, told] = useState<api.EpisodePlanned | null>(null);
  const ask: api.EpisodeWanted = { set: s.setName.value, name: name.trim(), clips: files.filter((f) => ticked.includes(f.id)).map((f) => f.id), grade, preset, ...within };
  useEffect(() => told(null), [name, grade, preset, within, ticked.join()]);
  return (
    <section class="adding" aria-label="Another day">
      <h2>{first ? 'The first day of this set' : 'Another day'}</h2>
      <p class="note">Each clip is checked against the set, measured, matched to its picture under the grade, rendered and verified. One that needs you is set aside with the reason; the others go on.</p>
      <fieldset>
        <legend>its clips</legend>
        {files.length ? (
          <ul class="ticks">
            {files.map((f) => (
              <li key={f.id}>
                <label><input type="checkbox" checked={ticked.includes(f.id)} onChange={(x) => tick(x.currentTarget.checked ? [...ticked, f.id] : ticked.filter((t) => t !== f.id))} /> {f.name} <small>{(f.bytes / 1e6).toFixed(1)} MB{used.has(base(f.name)) ? ', in an episode already' : ''}</small></label>
              </li>
            ))}
          </ul>
        ) : <p>There is no clip in the opened folders.</p>}
      </fieldset>
      <p class="line">
        <label>call it <input type="text" value={name} placeholder="monday" onInput={(x) => call(x.currentTarget.value)} /></label>
        <label>by the grade <select value={grade} onChange={(x) => by(x.currentTarget.value)}>{!first && <option value="">as the day before</option>}{grades.map((g) => <option key={g.id} value={g.id}>{g.name}</option>)}</select></label>
        <label>may be left <span><input type="number" aria-label="stops that may be left" min={0.02} max={2} step={0.02} value={within.stops} onChange={(x) => may({ ...within, stops: Number(x.currentTarget.value) })} /> stop, ΔE00 <input type="number" aria-label="ΔE00 that may be left" min={0.2} max={20} step={0.1} value={within.de00} onChange={(x) => may({ ...within, de00: Number(x.currentTarget.value) })} /></span></label>
        {plan && <label>written as <select value={preset || plan.episode.preset} onChange={(x) => as(x.currentTarget.value)}>{plan.presets.map((p) => <option key={p} value={p}>{p}</option>)}</select></label>}
        <button type="button" disabled={!name.trim() || !ticked.length} onClick={() => void s.attempt(async () => told(await api.planEpisodes(ask)))}>what will be done?</button>
      </p>
      {plan && (
        <div class="willdo">
          <p><b>{plan.episode.clips.length === 1 ? '1 clip' : `${plan.episode.clips.length} clips`}</b> by {base(plan.episode.grade)}, as {plan.episode.preset}, into {base(plan.episode.out)}:</p>
          <ul class="cols2">{plan.episode.clips.map((c) => <li key={c.number}>{base(c.file)} → {base(c.out)}</li>)}</ul>
          <button
            type="button"
            class="main"
            onClick={() => void s.attempt(async () => {
              await api.addEpisodes(ask);
              await e.read();
              e.choose(ask.name);
              begun(ask.name);
            })}
          >
            check, match, render and verify them
          </button>
        </div>
      )}
    </section>
  );
}

// What the clip tells: suggestions with their reasons, what the grade costs, and
// what is wrong with the clip.

import * as api from '../api/client.gen.ts';
import type { Stage } from '../core/path.ts';
import { percent, signed } from '../core/stops.ts';
import { Jobs } from './finish.tsx';
import * as s from './state.ts';

const last = (kind: string) => Object.values(s.jobs.value).filter((j) => j.kind === kind && (j.title === s.gradeFile.value || j.title === s.clip.value?.id)).sort((a, b) => Number(b.id) - Number(a.id))[0];
const ask = (): api.AdviceAsked => ({ clip: s.clip.value?.id ?? '', grade: s.gradeFile.value, set: s.setName.value });

/** Asks about the grade as it is on the page: what isn't saved is saved first. */
async function about(what: (a: api.AdviceAsked) => Promise<api.Job>) {
  if (s.unsaved.value && !(await s.saveGrade())) return;
  await s.attempt(() => what(ask()));
}

const number = (n: api.Number) => `${n.name} ${Math.abs(n.value) >= 100 ? n.value.toFixed(0) : signed(n.value)} ${n.unit}`;

export function Suggestions() {
  const j = last('suggest');
  const r = j?.state === 'done' ? (j.result as api.Suggested) : null;
  const take = (x: api.Suggestion) => void s.attempt(async () => {
    const g = s.grade.value;
    if (!g) return;
    const next = await api.withGrade({ grade: g, settings: x.settings });
    s.edit(`suggested ${x.stage}`, (now) => Object.assign(now, next.grade));
    s.stage.value = x.stage as Stage;
  });
  return (
    <section class="advice" aria-label="Suggestions">
      <p class="buttons">
        <button type="button" class="main" disabled={j?.state === 'running'} onClick={() => void about(api.suggestGrade)}>{r ? 'read the clip again' : 'what should the grade be?'}</button>
        <small>each with its reason; nothing is changed before you take it, and undo takes it back</small>
      </p>
      {!r && <Jobs kinds={['suggest']} />}
      {r?.mixed_light.filter((m) => m.warn).map((m) => <p key={m.a + m.b} class="note">{m.a} and {m.b} are {m.mired.toFixed(0)} mired apart: {m.why}</p>)}
      {r && (
        <ul class="given">
          {r.suggestions.map((x) => (
            <li key={x.stage} class={x.change ? '' : 'leave'}>
              <div>
                <b>{x.stage}</b> {x.reason}
                {x.numbers.length > 0 && <small>{x.numbers.map(number).join(' · ')}</small>}
                {x.change && <small>{x.after.map((a, i) => { const b = x.before[i]; return b && Math.abs(a.signal - b.signal) >= 0.5 ? `${a.region} ${b.signal.toFixed(0)} → ${a.signal.toFixed(0)} %` : ''; }).filter(Boolean).join(' · ')}</small>}
              </div>
              {x.change ? <button type="button" onClick={() => take(x)} title={x.settings.join('\n')}>take it<span class="away">: {x.stage}</span></button> : <small>leave it</small>}
            </li>
          ))}
        </ul>
      )}
      {r?.notes.map((n) => <p key={n} class="note">{n}</p>)}
    </section>
  );
}

export function Cost() {
  const j = last('budget');
  const b = j?.state === 'done' ? (j.result as api.Budget) : null;
  return (
    <section class="advice" aria-label="What the grade costs">
      <p class="buttons">
        <button type="button" class="main" disabled={j?.state === 'running'} onClick={() => void about(api.budgetGrade)}>{b ? 'work it out again' : 'what does the grade cost?'}</button>
        <small>bands and noise, along the stop ladder and stage by stage</small>
      </p>
      {!b && <Jobs kinds={['budget']} />}
      {b && (
        <div class="cols">
          <Steps b={b} />
          <div>
            {b.words.map((w) => <p key={w}>{w}</p>)}
            <table>
              <thead><tr><th>smooth area at risk of bands</th><th>rendered</th><th>delivered</th><th>after a web site</th><th>noise at grey</th></tr></thead>
              <tbody>
                <tr><th scope="row">the whole</th><td>{percent(b.risk.rendered)}</td><td>{percent(b.risk.delivered)}</td><td>{percent(b.risk.web)}</td><td>{b.noise_cost_stops === null ? '–' : `${signed(b.noise_cost_stops)} stop`}</td></tr>
                {b.other_bits.map((o) => <tr key={`${o.recorded_bits} ${o.out_bits}`}><th scope="row">{o.recorded_bits} bits recorded, {o.out_bits} written</th><td>{percent(o.risk.rendered)}</td><td>{percent(o.risk.delivered)}</td><td>{percent(o.risk.web)}</td><td /></tr>)}
                {b.stages.map((x) => <tr key={x.stage}><th scope="row">of it {x.stage}</th><td>{share(x.rendered)}</td><td>{share(x.delivered)}</td><td>{share(x.web)}</td><td>{x.noise_stops === null ? '–' : `${signed(x.noise_stops)} stop`}</td></tr>)}
              </tbody>
            </table>
            {b.notes.map((n) => <p key={n} class="note">{n}</p>)}
          </div>
        </div>
      )}
    </section>
  );
}

const share = (x: number) => `${x < -0.0005 ? '−' : x > 0.0005 ? '+' : ''}${percent(Math.abs(x), 1)}`;

/** How large one recorded step is on the screen, along the ladder lying down. */
function Steps({ b }: { b: api.Budget }) {
  const W = 330;
  const H = 160;
  const x = (stops: number) => 34 + ((stops + 8) / 14) * (W - 44);
  const y = (jnd: number) => 12 + (1 - Math.min(1, Math.log2(1 + jnd) / Math.log2(9))) * (H - 40);
  const levels = b.levels.filter((l) => l.stops >= -8 && l.stops <= 6);
  const curve = (of: (l: api.BudgetLevel) => number) => levels.map((l, i) => `${i ? 'L' : 'M'}${x(l.stops).toFixed(1)} ${y(of(l)).toFixed(1)}`).join('');
  const most = Math.max(1e-6, ...levels.map((l) => l.area));
  return (
    <figure class="plot">
      <figcaption>one step on the screen <small>just noticeable ones (1 is just seen)</small></figcaption>
      <svg width={W} height={H} viewBox={`0 0 ${W} ${H}`} role="img" aria-label={`One recorded step is at most ${Math.max(...levels.map((l) => l.step_jnd)).toFixed(1)} just noticeable ones, had 8 bits been recorded ${Math.max(...levels.map((l) => l.step_jnd_8)).toFixed(1)}`}>
        {levels.map((l) => <rect key={l.stops} x={x(l.stops) - 3} y={H - 28 - 26 * Math.sqrt(l.area / most)} width="6" height={26 * Math.sqrt(l.area / most)} class="area" />)}
        {[0, 1, 2, 4, 8].map((j) => <g key={j}><line x1={34} x2={W - 10} y1={y(j)} y2={y(j)} class={j === 1 ? 'zero' : 'grid'} /><text x={28} y={y(j) + 4} text-anchor="end">{j}</text></g>)}
        {[-8, -6, -4, -2, 0, 2, 4, 6].map((t) => <text key={t} x={x(t)} y={H - 12} text-anchor="middle">{t === 0 ? 'grey' : signed(t, 0)}</text>)}
        <g class="series">
          <path d={curve((l) => l.step_jnd)} />
          <path d={curve((l) => l.step_jnd_8)} stroke-dasharray="6 3" />
          <path d={curve((l) => l.out_jnd)} stroke-dasharray="2 3" />
        </g>
      </svg>
      <small>line: recorded in {b.recorded_bits} bits; dashes: had it been 8; dots: written in {b.out_bits}; columns: smooth area there</small>
    </figure>
  );
}

export function Problems() {
  const c = s.clip.value;
  const j = last('measure');
  const m = j?.state === 'done' ? (j.result as api.MeasuredClip) : null;
  return (
    <section class="advice" aria-label="Problems of the clip">
      <p class="buttons">
        <button type="button" class="main" disabled={!c || j?.state === 'running'} onClick={() => void s.attempt(() => api.measure({ clip: c?.id ?? '', set: s.setName.value, grade: s.gradeFile.value }))}>{m ? 'measure it again' : 'what is wrong with this clip?'}</button>
        {m && <small>{m.plan.words}</small>}
      </p>
      {!m && <Jobs kinds={['measure']} />}
      {m && (m.problems.length ? (
        <ul class="given">
          {m.problems.map((p) => (
            <li key={`${p.what}${p.from}`}>
              <div><b>{p.severity}</b> {p.what}<small>{p.advice}</small></div>
              {p.to > 0 && <button type="button" onClick={() => { s.frameNumber.value = Math.min((c?.frames ?? 1) - 1, Math.round(p.from * (c?.rate ?? 25))); }}>show {p.from.toFixed(1)} s</button>}
            </li>
          ))}
        </ul>
      ) : <p>Nothing was found wrong.</p>)}
      {m && m.preflight.length > 0 && <details><summary>before the next take</summary><ul class="given">{m.preflight.map((p) => <li key={p.item}><div><b>{p.item}</b> {p.set}<small>{p.why}</small></div></li>)}</ul></details>}
    </section>
  );
}

// Saving, exporting, rendering and what came of it.

import { useState } from 'preact/hooks';
import * as api from '../api/client.gen.ts';
import { sentence } from '../core/stops.ts';
import * as s from './state.ts';

const stem = (id: string) => id.replace(/\.[^./]*$/, '');

export function Finish() {
  const c = s.clip.value;
  const [said, say] = useState('');
  if (!c) return null;
  const out = `${stem(c.id)}-finished.mov`;
  const stands = (id: string) => (s.started.value?.files ?? []).some((f) => f.id === id);
  const render = async (overwrite: boolean) => {
    if (s.unsaved.value && !(await s.saveGrade())) return;
    await s.attempt(() => api.render({ clip: c.id, grade: s.gradeFile.value, out, overwrite }));
  };
  const lut = async () => {
    if (s.unsaved.value && !(await s.saveGrade())) return;
    const file = `${stem(s.gradeFile.value)}.cube`;
    const made = await s.attempt(() => api.lut({ grade: s.gradeFile.value, out: file, size: 33, overwrite: stands(file) }));
    if (made) say(`${file.slice(2)}: 33 points a side, within ΔE00 ${made.error.maxDE.toFixed(2)} of the path. ${made.notes.join(' ')}`);
  };
  return (
    <section class="finish" aria-label="Finish">
      <h2>finish</h2>
      <p class="buttons">
        <button type="button" disabled={!s.unsaved.value} onClick={() => void s.saveGrade()}>save grade</button>
        <button type="button" onClick={() => void lut()}>export LUT</button>
        <button type="button" class="main" onClick={() => void render(stands(out))}>{stands(out) ? 'render again' : 'render'}</button>
      </p>
      {said && <p class="note" role="status">{said}</p>}
      <Jobs kinds={['render', 'verify', 'demo']} />
    </section>
  );
}

/** Jobs, newest first, with progress, cancel and what came of them. */
export function Jobs({ kinds }: { kinds: string[] }) {
  const list = Object.values(s.jobs.value)
    .filter((j) => kinds.includes(j.kind))
    .sort((a, b) => Number(b.id) - Number(a.id))
    .slice(0, 4);
  return (
    <ul class="jobs" aria-live="polite">
      {list.map((j) => (
        <li key={j.id}>
          <b>{j.kind}</b> {j.title.replace(/^\d+\//, '')}{' '}
          {j.state === 'running' && s.server.value !== 'here' ? (
            <small>nothing heard of it since lampwise went silent</small>
          ) : j.state === 'running' ? (
            <>
              <progress max={j.step?.total || 1} value={j.step?.total ? j.step.done : undefined} aria-label={`${j.kind} ${j.title}`} />
              <small>{j.step ? `${j.step.what} ${j.step.detail}` : 'beginning'}</small>{' '}
              <button type="button" onClick={() => void s.attempt(() => api.cancel({ job: j.id }))}>cancel</button>
            </>
          ) : (
            <Outcome j={j} />
          )}
        </li>
      ))}
    </ul>
  );
}

function Outcome({ j }: { j: api.Job }) {
  if (j.state === 'failed') return <p class="bad">{sentence(s.plain(j.error?.message ?? ''))} <small>{sentence(j.error?.hint ?? '')}</small></p>;
  if (j.state === 'cancelled') return <small>cancelled; nothing was left behind</small>;
  if (j.kind === 'render') {
    const r = j.result as api.Rendered;
    const c = s.clip.value;
    return (
      <>
        <small>{r.frames} frames, {r.frames_per_second.toFixed(1)} a second</small>{' '}
        {c && <button type="button" onClick={() => void s.attempt(() => api.verify({ file: j.title, clip: c.id, grade: s.gradeFile.value }))}>verify</button>}
      </>
    );
  }
  if (j.kind === 'verify') {
    const v = j.result as api.Verified;
    return (
      <>
        <small>{v.ok ? 'nothing is wrong' : `${v.problems.length} to look at`}: {v.frames} frames, ΔE00 mean {v.mean_de00.toFixed(2)}, most {v.max_de00.toFixed(2)}{v.audio_same ? ', sound untouched' : ''}</small>
        <ul>{v.problems.slice(0, 4).map((p) => <li key={p.what}>{p.what}: {p.size.toFixed(2)} {p.unit}. <small>{p.advice}</small></li>)}</ul>
      </>
    );
  }
  return <small>done</small>;
}

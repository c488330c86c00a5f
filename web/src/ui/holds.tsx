// A switch clip's holds as a strip of pictures with their times.

import { useState } from 'preact/hooks';
import * as api from '../api/client.gen.ts';
import * as s from './state.ts';

/** Each hold by a frame of its middle; without it where it can't be had. */
export function Strip({ clip, curve, holds }: { clip: string; curve: string; holds: api.SetHold[] }) {
  const known = holds.some((h) => h.on.length > 0); // else nobody could say yet what was on
  return (
    <ol class="holds">
      {holds.map((h, i) => (
        <li key={h.start}>
          <Thumb src={`/api/hold?${new URLSearchParams({ clip, curve, at: ((h.start + h.end) / 2).toFixed(3) })}`} alt={`hold ${i + 1} at ${h.start.toFixed(1)} s`} />
          <b>{i + 1}</b> <span>{h.start.toFixed(1)} to {h.end.toFixed(1)} s</span>
          {known && <small>{h.on.length ? h.on.join(' + ') : 'ambient alone'}</small>}
        </li>
      ))}
    </ol>
  );
}

function Thumb({ src, alt }: { src: string; alt: string }) {
  const [lost, lose] = useState(false);
  return lost ? <span class="nothumb">no picture</span> : <img src={src} alt={alt} loading="lazy" onError={() => lose(true)} />;
}

/** The holds as a strip, lamps to be named. */
export function Holds({ done, clip }: { done: api.LearnedSet; clip: string }) {
  const [names, set] = useState<Record<string, string>>({});
  const pairs = Object.entries(names).filter(([old, n]) => n && n !== old).map(([old, n]) => `${old}=${n}`);
  return (
    <div>
      <Strip clip={clip} curve={done.curve} holds={done.holds} />
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

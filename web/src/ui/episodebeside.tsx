// Two episodes beside each other: their finished pictures under a wipe, and
// their numbers.

import { useEffect, useState } from 'preact/hooks';
import * as api from '../api/client.gen.ts';
import { clamp, signed } from '../core/stops.ts';
import * as e from './episodestate.ts';
import * as s from './state.ts';

export function Beside({ ep }: { ep: api.ShownEpisode }) {
  const others = (e.book.value?.episodes ?? []).filter((x) => x.name !== ep.name && x.done > 0);
  const [other, choose] = useState(others.at(-1)?.name ?? '');
  const b = others.find((x) => x.name === other);
  useEffect(() => {
    e.compared.value = null;
    if (other) void s.attempt(async () => { e.compared.value = await api.compareEpisodes({ set: ep.set, a: other, b: ep.name }); });
  }, [ep.name, other]);
  if (!others.length) return <p class="note">There is no other episode with a finished clip yet.</p>;
  const c = e.compared.value;
  return (
    <div class="besides">
      <p class="line"><label>{ep.name} beside <select value={other} onChange={(x) => choose(x.currentTarget.value)}>{others.map((x) => <option key={x.name} value={x.name}>{x.name}</option>)}</select></label></p>
      <div class="pair">
        {b && <Wipe a={b} b={ep} />}
        {c && (
          <div class="numbers">
            <table>
              <thead><tr><th /><th>{c.a}</th><th>{c.b}</th><th>difference</th></tr></thead>
              <tbody>
                {c.rows.filter((r) => r.value_a !== null || r.value_b !== null).map((r) => (
                  <tr key={r.what + r.unit}>
                    <th scope="row">{r.what}, <small>{r.unit}</small></th>
                    {[r.value_a, r.value_b, r.difference].map((v, i) => <td key={i}>{v === null ? '–' : r.unit === 'K' ? v.toFixed(0) : signed(v)}</td>)}
                  </tr>
                ))}
              </tbody>
            </table>
            {c.notes.map((n) => <p key={n} class="note">{n}</p>)}
          </div>
        )}
      </div>
    </div>
  );
}

const picture = (x: api.ShownEpisode, n: number) => `/api/finished?${new URLSearchParams({ set: x.set, episode: x.name, number: String(n) })}`;

function Wipe({ a, b }: { a: api.ShownEpisode; b: api.ShownEpisode }) {
  const done = (x: api.ShownEpisode) => x.clips.filter((c) => c.state === 'done');
  const [at, move] = useState(0.5);
  const [gone, missing] = useState<Record<string, boolean>>({});
  const left = done(a)[0];
  const right = done(b).find((c) => c.number === e.clip.value) ?? done(b)[0];
  if (!left || !right) return <p class="note">One of the two has no finished clip.</p>;
  const to = (v: number) => move(clamp(v, 0, 1));
  const pictures: [api.ShownEpisode, number][] = [[b, right.number], [a, left.number]];
  const lost = pictures.filter(([x, n]) => gone[picture(x, n)]).map(([x]) => x.name);
  if (lost.length) return <p class="note">The finished file of {lost.join(' and ')} can’t be read any more: it was moved, renamed, or lies outside the folders opened. The numbers stay.</p>;
  return (
    <div class="wiped">
      {pictures.map(([x, n], i) => (
        <img
          key={x.name}
          src={picture(x, n)}
          alt={`${x.name}: the middle frame of the finished clip ${n}`}
          style={i === 0 ? undefined : { clipPath: `inset(0 ${100 * (1 - at)}% 0 0)` }}
          onError={() => missing({ ...gone, [picture(x, n)]: true })}
        />
      ))}
      <span class="cap">{a.name}</span>
      <span class="cap other">{b.name}</span>
      <div
        class="wipe"
        role="slider"
        tabIndex={0}
        aria-label="Wipe"
        aria-valuemin={0}
        aria-valuemax={100}
        aria-valuenow={Math.round(100 * at)}
        aria-valuetext={`${Math.round(100 * at)} % ${a.name}, the rest ${b.name}`}
        style={{ left: `${100 * at}%` }}
        onPointerDown={(d) => {
          const t = d.currentTarget;
          t.setPointerCapture(d.pointerId);
          const box = t.parentElement?.getBoundingClientRect();
          t.onpointermove = (m) => box && to((m.clientX - box.left) / box.width);
          t.onpointerup = () => { t.onpointermove = null; };
        }}
        onKeyDown={(k) => {
          const d = k.shiftKey ? 0.1 : 0.02;
          if (k.key === 'ArrowLeft') to(at - d);
          else if (k.key === 'ArrowRight') to(at + d);
          else return;
          k.preventDefault();
        }}
      />
    </div>
  );
}

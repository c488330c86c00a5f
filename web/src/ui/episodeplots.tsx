// A set's numbers over its episodes: small drawings side by side, one a kind of
// number, every line named at its end.

import type * as api from '../api/client.gen.ts';
import { signed } from '../core/stops.ts';
import * as e from './episodestate.ts';

const W = 386;
const H = 168;
const LEFT = 44;
const RIGHT = 98;
const TOP = 12;
const BOTTOM = 26;

export function OverTime() {
  const h = e.history.value;
  if (!h) return <p class="note">Nothing was found yet of any episode.</p>;
  const groups = [...new Set(h.series.map((x) => x.group))];
  const sure = h.series.filter((x) => x.trend?.sure && Math.abs(x.trend.total) >= (x.unit === 'mired' ? 4 : 0.05));
  return (
    <div class="history">
      <ul class="told">
        {sure.map((x) => <li key={`${x.group} ${x.what}`}><b>{x.what}</b> changes steadily: {signed(x.trend?.total ?? 0)} {x.unit} over {x.trend?.episodes} episodes, {signed(x.trend?.per_episode ?? 0, 3)} each.</li>)}
        {strayed(h.strays).map(([day, words]) => <li key={day}><b>{day}</b> strays from what is usual: {words}.</li>)}
        {!sure.length && !h.strays.length && <li>No number changes steadily, and no clip lies far from the others.</li>}
      </ul>
      <div class="plots">{groups.map((g) => <Plot key={g} name={g} series={h.series.filter((x) => x.group === g)} />)}</div>
    </div>
  );
}

/** A day's strays in one line, clips of the same kind together. */
function strayed(strays: api.HistoryStray[]): [string, string][] {
  const days = new Map<string, Map<string, api.HistoryStray[]>>();
  for (const x of strays) {
    const of = days.get(x.episode) ?? new Map<string, api.HistoryStray[]>();
    of.set(x.what, [...(of.get(x.what) ?? []), x]);
    days.set(x.episode, of);
  }
  return [...days].map(([day, kinds]) => [
    day,
    [...kinds].map(([what, list]) => {
      const mean = list.reduce((a, x) => a + x.value - x.usual, 0) / list.length;
      return `${what} by ${signed(mean)} ${list[0]?.unit ?? ''} (${list.length === 1 ? 'clip' : 'clips'} ${list.map((x) => x.clip).join(', ')})`;
    }).join('; '),
  ]);
}

/** Line ends, so that lines are told apart without colour. */
const dashes = ['', '6 3', '2 3', '9 3 2 3', '12 4', '4 2 1 2 1 2'];
const shapes = [
  (x: number, y: number) => `M${x - 3} ${y}a3 3 0 1 0 6 0a3 3 0 1 0 -6 0`,
  (x: number, y: number) => `M${x - 3} ${y - 3}h6v6h-6z`,
  (x: number, y: number) => `M${x} ${y - 4}l4 7h-8z`,
  (x: number, y: number) => `M${x} ${y - 4}l4 4l-4 4l-4-4z`,
  (x: number, y: number) => `M${x - 3} ${y - 3}l6 6m0-6l-6 6`,
  (x: number, y: number) => `M${x - 4} ${y}h8m-4-4v8`,
];

function Plot({ name, series }: { name: string; series: api.HistorySeries[] }) {
  const unit = series[0]?.unit ?? '';
  const points = series[0]?.points ?? [];
  const values = series.flatMap((s) => s.points.map((p) => p.value).filter((v): v is number => v !== null));
  if (!values.length) return null;
  const least = unit === 'mired' ? 10 : unit === 'ΔE00' ? 2 : 0.5;
  let lo = Math.min(0, ...values);
  let hi = Math.max(0, ...values);
  if (name === 'readings') {
    lo = Math.min(...values);
    hi = Math.max(...values);
  }
  const pad = Math.max(0.08 * (hi - lo), (least - (hi - lo)) / 2, 0);
  lo -= name.startsWith('left') ? 0 : pad;
  hi += pad;
  const n = points.length;
  const x = (i: number) => LEFT + (n < 2 ? 0.5 : i / (n - 1)) * (W - LEFT - RIGHT);
  const y = (v: number) => TOP + ((hi - v) / (hi - lo)) * (H - TOP - BOTTOM);
  const step = ticks(hi - lo);
  const marks: number[] = [];
  for (let t = Math.ceil(lo / step) * step; t <= hi + 1e-9; t += step) marks.push(Number(t.toFixed(6)));
  const days = points.map((p, i) => ({ name: p.episode, i })).filter((p, i, all) => i === 0 || all[i - 1]?.name !== p.name);
  const ends = apart(series.map((s, k) => {
    const last = s.points.map((p, i) => ({ v: p.value, i })).filter((p) => p.v !== null).at(-1);
    return { k, name: s.what, y: y(last?.v ?? 0) };
  }).filter((_, k) => series[k]?.points.some((p) => p.value !== null)));
  const every = Math.ceil(days.length / 5);
  return (
    <figure class="plot">
      <figcaption>{name} <small>{unit}</small></figcaption>
      <svg width={W} height={H} viewBox={`0 0 ${W} ${H}`} role="img" aria-label={`${name}, in ${unit}: ${series.map((s) => describe(s)).join('; ')}`}>
        {marks.map((t) => (
          <g key={t}>
            <line x1={LEFT} x2={W - RIGHT} y1={y(t)} y2={y(t)} class={t === 0 ? 'zero' : 'grid'} />
            <text x={LEFT - 6} y={y(t) + 4} text-anchor="end">{name.startsWith('left') ? t.toFixed(step < 0.1 ? 2 : step < 1 ? 1 : 0) : signed(t, step < 0.1 ? 2 : step < 1 ? 1 : 0)}</text>
          </g>
        ))}
        {days.map((d, k) => (
          <g key={d.name}>
            {d.i > 0 && <line x1={(x(d.i) + x(d.i - 1)) / 2} x2={(x(d.i) + x(d.i - 1)) / 2} y1={TOP} y2={H - BOTTOM} class="day" />}
            {k % every === 0 && <text x={x(d.i)} y={H - 8} text-anchor={k === 0 ? 'start' : 'middle'} class={d.name === e.episode.value ? 'here' : ''}>{d.name.slice(0, 12)}</text>}
          </g>
        ))}
        {series.map((s, k) => (
          <g key={s.what} class="series">
            <path d={line(s.points.map((p, i) => (p.value === null ? null : [x(i), y(p.value)])))} stroke-dasharray={dashes[k % dashes.length]} />
            {s.points.map((p, i) => p.value !== null && (
              <path key={`${p.episode} ${p.clip}`} d={shapes[k % shapes.length]?.(x(i), y(p.value))} class="point"><title>{`${p.episode}, clip ${p.clip}: ${s.what} ${signed(p.value)} ${unit}`}</title></path>
            ))}
          </g>
        ))}
        {ends.map((t) => <text key={t.name} x={W - RIGHT + 12} y={t.at + 4} class="end"><tspan>{t.name.slice(0, 14)}</tspan></text>)}
        {ends.map((t) => <path key={t.name} d={`M${W - RIGHT + 2} ${t.y}L${W - RIGHT + 9} ${t.at}`} class="lead" />)}
      </svg>
      <details>
        <summary>as numbers</summary>
        <table>
          <thead><tr><th>clip</th>{series.map((s) => <th key={s.what}>{s.what}</th>)}</tr></thead>
          <tbody>{points.map((p, i) => <tr key={`${p.episode} ${p.clip}`}><th scope="row">{p.episode}, {p.clip}</th>{series.map((s) => <td key={s.what}>{s.points[i]?.value === null || s.points[i]?.value === undefined ? '–' : signed(s.points[i]?.value ?? 0)}</td>)}</tr>)}</tbody>
        </table>
      </details>
    </figure>
  );
}

function describe(s: api.HistorySeries): string {
  const v = s.points.map((p) => p.value).filter((x): x is number => x !== null);
  return v.length ? `${s.what} from ${signed(v[0] ?? 0)} to ${signed(v.at(-1) ?? 0)}` : `${s.what} not known`;
}

function ticks(span: number): number {
  const raw = span / 4;
  const ten = 10 ** Math.floor(Math.log10(raw));
  return [1, 2, 5, 10].map((k) => k * ten).find((k) => k >= raw) ?? raw;
}

function line(points: ([number, number] | null)[]): string {
  let d = '';
  let pen = false;
  for (const p of points) {
    if (p) d += `${pen ? 'L' : 'M'}${p[0].toFixed(1)} ${p[1].toFixed(1)}`;
    pen = p !== null;
  }
  return d;
}

function apart<T extends { y: number }>(ends: T[]): (T & { at: number })[] {
  const sorted = ends.map((t) => ({ ...t, at: t.y })).sort((a, b) => a.at - b.at);
  for (let i = 1; i < sorted.length; i++) {
    const a = sorted[i - 1];
    const b = sorted[i];
    if (a && b && b.at - a.at < 13) b.at = a.at + 13;
  }
  const last = sorted.at(-1);
  const over = last ? last.at - (H - BOTTOM + 6) : 0;
  if (over > 0) for (const t of sorted) t.at -= over;
  return sorted;
}

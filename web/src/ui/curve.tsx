// The curve stage below the picture: which channels the rungs are of, and a
// read-out. The rungs themselves stand on the ladder.

import { signal } from '@preact/signals';
import type { Grade, LiveProgram } from '../api/client.gen.ts';
import { back, signed } from '../core/stops.ts';
import type { Rungs } from './ladder.tsx';
import { edit, right } from './state.ts';

type Channel = 'master' | 'red' | 'green' | 'blue';
type Points = [number, number][];
const channels: Channel[] = ['master', 'red', 'green', 'blue'];
const word = (c: Channel) => (c === 'master' ? 'all' : c);

/** Whose rungs stand on the ladder. */
export const channel = signal<Channel>('master');

const pointsOf = (g: Grade, c: Channel): Points => (g.curve[c] ?? []) as Points;
const level = (points: number[]): Points => points.map((s) => [s, s]);
const begin = { master: [-6, -3, 0, 2, 4], channel: [-4, -1, 1, 3] }; // stops from grey

/** The rungs of the channel in hand. A channel's take in what comes out of those of all. */
export function rungsOf(g: Grade, head: LiveProgram): Rungs {
  const c = channel.value;
  const all = pointsOf(g, 'master');
  const first = all[0];
  const last = all[all.length - 1];
  // Beyond its ends the curve is taken as going on by whole stops, for drawing.
  const rungs = first && last ? [[first[0] - 20, first[1] - 20], ...all, [last[0] + 20, last[1] + 20]].map(([scene = 0, screen = 0]) => ({ scene, screen, signal: 0 })) : [];
  return {
    points: pointsOf(g, c),
    of: c === 'master' ? '' : c,
    from: c === 'master' ? (s) => s : (s) => back(rungs, s),
    plain: head.plain,
    exposure: g.exposure.off ? 0 : g.exposure.stops,
    move: (i, out) => edit(`rung ${c} ${i}`, (x) => { const p = x.curve[c][i]; if (p) p[1] = out; }),
    remove: (i) => edit('rung out', (x) => {
      if (x.curve[c].length > 2) x.curve[c].splice(i, 1);
      else if (c !== 'master') x.curve[c] = [];
    }),
  };
}

/** The curve drawn over its straight line, and its slopes: a read-out only. */
export function CurveReadOut({ g }: { g: Grade }) {
  const c = channel.value;
  const points = pointsOf(g, c);
  const x = (s: number) => 8 + ((s + 8) / 14) * 110;
  const y = (s: number) => 118 - ((s + 8) / 14) * 110;
  const line = (p: Points) => p.map((q) => `${x(q[0]).toFixed(1)},${y(q[1]).toFixed(1)}`).join(' ');
  const slopes = points.slice(1).map((p, i) => {
    const a = points[i] as [number, number];
    return (p[1] - a[1]) / (p[0] - a[0]);
  });
  const noteOf = right.value?.head.notes ?? [];
  return (
    <div class="readout">
      <svg width="126" height="126" role="img" aria-label={`Curve of ${word(c)}: ${points.map((p) => `${signed(p[0], 1)} to ${signed(p[1])}`).join(', ') || 'straight'}`}>
        <rect x="8" y="8" width="110" height="110" class="frame" />
        <path d={`M${x(-8)} ${y(-8)}L${x(6)} ${y(6)}`} class="straight" />
        {channels.filter((o) => o !== c && pointsOf(g, o).length > 0).map((o) => {
          const p = pointsOf(g, o);
          const end = p[p.length - 1] as [number, number];
          return <g key={o}><polyline points={line(p)} class="other" /><text x={x(end[0]) - 4} y={y(end[1]) - 5} text-anchor="end">{word(o)}</text></g>;
        })}
        <polyline points={line(points)} class="line" />
        {points.map((p) => <circle key={p[0]} cx={x(p[0])} cy={y(p[1])} r="2.5" />)}
        <text x="12" y="21">read-out</text>
      </svg>
      <div>
        <p class="buttons">
          <span class="sorts" role="group" aria-label="Rungs of">
            {channels.map((o) => <button key={o} type="button" aria-pressed={o === c} onClick={() => { channel.value = o; }}>{word(o)}{o !== 'master' && pointsOf(g, o).length > 0 ? <small> {pointsOf(g, o).length}</small> : ''}</button>)}
          </span>
          <button type="button" onClick={() => edit('rung add', (v) => { v.curve[c] = withRung(pointsOf(v, c), c); })}>add a rung</button>
          <button type="button" disabled={c !== 'master' && !points.length} onClick={() => edit('straight', (v) => { v.curve[c] = c === 'master' ? level(begin.master) : []; })}>straighten</button>
        </p>
        <p>
          {points.length ? <>Slope from <b>{Math.min(...slopes).toFixed(2)}</b> to <b>{Math.max(...slopes).toFixed(2)}</b>: where rungs spread on the screen side, contrast rises.</> : c === 'master' ? 'No rungs yet: the curve is straight.' : `No rungs of ${c} alone: it goes as all do. Add rungs to tint by light.`}
        </p>
        <div class="rungs">
          {points.map((p) => (
            <span key={p[0]}>
              {signed(p[0], 1)} → <b>{signed(p[1])}</b>
            </span>
          ))}
        </div>
        {noteOf.length > 0 && <p class="note">{noteOf[0]}</p>}
      </div>
    </div>
  );
}

/** One rung more, in the middle of the widest gap. */
function withRung(points: Points, c: Channel): Points {
  if (points.length < 2) return level(c === 'master' ? begin.master : begin.channel);
  let widest = 1;
  for (let i = 1; i < points.length; i++) if (gap(points, i) > gap(points, widest)) widest = i;
  const a = points[widest - 1] as [number, number];
  const b = points[widest] as [number, number];
  return [...points.slice(0, widest), [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], ...points.slice(widest)];
}
const gap = (p: Points, i: number) => (p[i]?.[0] ?? 0) - (p[i - 1]?.[0] ?? 0);

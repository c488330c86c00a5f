// Split: a strip across the ladder for cool to warm and one for pink to green.
// Up is more light; a band's handle stands at its middle, the line between is
// what light in between gets.

import type { JSX } from 'preact';
import type { Grade } from '../api/client.gen.ts';
import { clamp, signed } from '../core/stops.ts';
import { tint } from '../core/tint.ts';
import { NumberField } from './parts.tsx';
import { edit, right } from './state.ts';

type Band = 'shadow' | 'middle' | 'high';
type Axis = 'mired' | 'duv';
const bands: Band[] = ['high', 'middle', 'shadow'];
const place = { shadow: 0, middle: 1, high: 2 } as const;

interface Strip {
  axis: Axis;
  reach: number; // shown to either side
  most: number; // a grade may hold
  step: number;
  digits: number;
  less: string;
  more: string;
}
const strips: Strip[] = [
  { axis: 'mired', reach: 60, most: 100, step: 1, digits: 0, less: 'cooler', more: 'warmer' },
  { axis: 'duv', reach: 0.02, most: 0.03, step: 0.0005, digits: 4, less: 'pinker', more: 'greener' },
];
const unit = { mired: 'mired', duv: 'Duv' };

const HI = 5; // stops shown
const LO = -7;
const W = 150;
const H = 100;

/** What a band is pushed by: its own number, or what it was solved to. */
const pushed = (g: Grade, band: Band, axis: Axis): number => (g.split.counter === band ? right.value?.head.split?.pushes[place[band]]?.[axis] : undefined) ?? g.split[band][axis];

const put = (band: Band, p: Strip, v: number) =>
  edit(`split ${band} ${p.axis}`, (g) => {
    g.split[band][p.axis] = Number(clamp(v, -p.most, p.most).toFixed(p.digits));
  });

export function SplitStrips({ g }: { g: Grade }) {
  const said = right.value?.head.split;
  return (
    <div class="splits">
      {strips.map((p) => <Drawn key={p.axis} g={g} p={p} />)}
      <div>
        <table>
          <thead>
            <tr><th scope="col">band</th><th scope="col">at, stops</th><th scope="col">mired</th><th scope="col">Duv</th><th scope="col">counter-push</th></tr>
          </thead>
          <tbody>{bands.map((b) => <Row key={b} g={g} band={b} />)}</tbody>
        </table>
        {said && <p class="note">A grey card moves by ΔE00 {said.card_de.toFixed(1)}: {said.card_neutral ? 'it stays neutral to the eye' : 'its tint is seen'}.</p>}
      </div>
    </div>
  );
}

/** Lets a band be solved; or leaves it, set by hand from now on, where it was solved to. */
function solve(g: Grade, band: Band) {
  const now = strips.map((p) => Number(pushed(g, band, p.axis).toFixed(p.digits)));
  edit('counter', (x) => {
    const was = x.split.counter === band;
    x.split.counter = was ? 'none' : band;
    if (was) x.split[band] = { mired: now[0] ?? 0, duv: now[1] ?? 0 };
  });
}

/** Numbers of a band: the strip's, and where it lies. */
function Row({ g, band }: { g: Grade; band: Band }) {
  const i = place[band];
  const solved = g.split.counter === band;
  const c = g.split.centres;
  return (
    <tr>
      <th scope="row">{band}</th>
      <td>
        <NumberField name={`Middle of ${band}, stops from grey`} step={0.1} value={c[i] ?? 0} set={(to) => {
          // The bands keep their order.
          const v = clamp(to, i ? (c[i - 1] ?? -10) + 0.1 : -10, i < 2 ? (c[i + 1] ?? 10) - 0.1 : 10);
          edit(`centre ${band}`, (x) => { x.split.centres[i] = Number(v.toFixed(2)); });
        }} />
      </td>
      {strips.map((p) => (
        <td key={p.axis}>
          {solved ? (
            <output>{signed(pushed(g, band, p.axis), p.digits)}</output>
          ) : (
            <NumberField name={`${band}, ${p.less} to ${p.more}, ${unit[p.axis]}`} step={p.step} value={g.split[band][p.axis]} set={(v) => put(band, p, v)} />
          )}
        </td>
      ))}
      <td>
        <button type="button" aria-pressed={solved} aria-label={`${band} solved`} title="This band is solved such that the picture’s mean colour stays where it was" onClick={() => solve(g, band)}>solved</button>
      </td>
    </tr>
  );
}

const columns = 24;
const rows = 10;
const grounds = new Map<Axis, JSX.Element[]>();

/** What the pushes look like on grey of each light; drawn once. */
function ground(p: Strip): JSX.Element[] {
  const old = grounds.get(p.axis);
  if (old) return old;
  const cells: JSX.Element[] = [];
  for (let i = 0; i < columns; i++) {
    const v = ((2 * (i + 0.5)) / columns - 1) * p.reach;
    for (let k = 0; k < rows; k++) {
      const light = 0.85 * ((rows - k - 0.5) / rows) ** 2.4; // even steps to the eye
      cells.push(<rect key={`${i} ${k}`} x={(i * W) / columns} y={(k * H) / rows} width={W / columns + 0.5} height={H / rows + 0.5} fill={tint(p.axis === 'mired' ? v : 0, p.axis === 'duv' ? v : 0, light)} />);
    }
  }
  grounds.set(p.axis, cells);
  return cells;
}

function Drawn({ g, p }: { g: Grade; p: Strip }) {
  const x = (v: number) => W / 2 + (clamp(v, -p.reach, p.reach) / p.reach) * (W / 2 - 10);
  const y = (s: number) => ((HI - clamp(s, LO, HI)) / (HI - LO)) * H;
  const at = (band: Band) => ({ x: x(pushed(g, band, p.axis)), y: y(g.split.centres[place[band]] ?? 0) });
  const drag = (band: Band) => (e: PointerEvent) => {
    const t = e.currentTarget as SVGElement;
    const box = t.ownerSVGElement?.getBoundingClientRect();
    if (!box) return;
    t.setPointerCapture(e.pointerId);
    t.onpointermove = (m) => put(band, p, Math.round((((m.clientX - box.left) / box.width) * (W + 12) - 6 - W / 2) / (W / 2 - 10) * p.reach / p.step) * p.step);
    t.onpointerup = () => { t.onpointermove = null; };
  };
  return (
    <figure class="strip">
      <figcaption><span>{p.less}</span> <b>{unit[p.axis]}</b> <span>{p.more}</span></figcaption>
      <svg width={W + 12} height={H + 8} viewBox={`-6 -4 ${W + 12} ${H + 8}`} role="group" aria-label={`${p.less} to ${p.more}, band by band`}>
        <g>{ground(p)}</g>
        <line x1={W / 2} x2={W / 2} y1="0" y2={H} class="none" />
        <line x1="0" x2="5" y1={y(0)} y2={y(0)} class="grey" />
        <text x="8" y={y(0) + 4}>grey</text>
        <path d={between(g, p, x, y)} class="through" />
        {bands.map((b) => {
          const h = at(b);
          const v = pushed(g, b, p.axis);
          if (g.split.counter === b) return <g key={b}><circle cx={h.x} cy={h.y} r="5" class="solved" /><title>{`${b}: solved to ${signed(v, p.digits)} ${unit[p.axis]}`}</title></g>;
          return (
            <g
              key={b}
              role="slider"
              tabindex={0}
              aria-label={`${b}, ${p.less} to ${p.more}`}
              aria-valuemin={-p.most}
              aria-valuemax={p.most}
              aria-valuenow={v}
              aria-valuetext={`${signed(v, p.digits)} ${unit[p.axis]}`}
              onPointerDown={drag(b)}
              onKeyDown={(e) => {
                const d = e.key === 'ArrowRight' || e.key === 'ArrowUp' ? 1 : e.key === 'ArrowLeft' || e.key === 'ArrowDown' ? -1 : 0;
                if (d) put(b, p, v + d * p.step * (e.shiftKey ? 10 : 1));
                else if (e.key === 'Home') put(b, p, 0);
                else return;
                e.preventDefault();
              }}
            >
              <rect x={h.x - 12} y={h.y - 12} width="24" height="24" class="touch" />
              <path d={`M${h.x} ${h.y - 7}l7 7-7 7-7-7Z`} class="grip" />
              <title>{`${b}: ${signed(v, p.digits)} ${unit[p.axis]}; drag, or arrow keys; Home takes it away`}</title>
            </g>
          );
        })}
      </svg>
    </figure>
  );
}

/** The push all along the ladder: from band to band by a smooth step (drawn in stops; the grade does it in log, which is nearly that). */
function between(g: Grade, p: Strip, x: (v: number) => number, y: (s: number) => number): string {
  const c = g.split.centres;
  const v = (['shadow', 'middle', 'high'] as const).map((b) => pushed(g, b, p.axis));
  let d = '';
  for (let s = LO; s <= HI; s += 0.25) {
    const step = (a: number, b: number) => {
      const t = clamp((s - a) / (b - a), 0, 1);
      return t * t * (3 - 2 * t);
    };
    const up = step(c[0] ?? -3, c[1] ?? 0);
    const top = step(c[1] ?? 0, c[2] ?? 2.5);
    const push = (1 - up) * (v[0] ?? 0) + (up - top) * (v[1] ?? 0) + top * (v[2] ?? 0);
    d += `${d ? 'L' : 'M'}${x(push).toFixed(1)} ${y(s).toFixed(1)}`;
  }
  return d;
}

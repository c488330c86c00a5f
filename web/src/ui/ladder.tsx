// The stop ladder: one ruler in stops from grey, scene on the left rail, screen
// on the right. Rungs are the curve's control; brackets are targets.

import { useRef } from 'preact/hooks';
import type { LiveLight, LiveRung } from '../api/client.gen.ts';
import { back, clamp, screenStops, signed, through } from '../core/stops.ts';

export interface Mark {
  name: string;
  scene: number;
  screen: number;
  hollow?: boolean;
  quiet?: boolean; // without its name
  doubt?: number; // how far it may err, in stops
  measured?: number | undefined; // what was measured of it, beside what is planned
}

export interface Rungs {
  points: [number, number][]; // scene stops in, out
  of: string; // a channel alone; empty: all
  from: (scene: number) => number; // the light that a point takes in
  plain: LiveRung[]; // the path with the curve off: where an out stop comes to
  exposure: number; // stops that light gains before it meets the curve
  move: (index: number, out: number) => void;
  remove: (index: number) => void;
}

export interface Targets {
  list: { region: string; want: number; tolerance: number }[];
  move: (region: string, want: number) => void;
}

interface Props {
  ladder: LiveRung[];
  marks: Mark[];
  clip: number | null;
  measured: boolean;
  floor: number | null;
  light?: LiveLight | null;
  rungs?: Rungs | null;
  targets?: Targets | null;
  height: number;
  sceneOnly?: boolean; // no path to the screen yet
}

const HI = 7;
const LO = -9;
const L = 70;
const R = 158;
const SHOWN = [1, 0.75, 0.55, 0.41, 0.25, 0.12, 0.05];

export function Ladder(p: Props) {
  const svg = useRef<SVGSVGElement>(null);
  const top = 30;
  const bottom = p.height - 14;
  const width = p.sceneOnly ? 192 : 232;
  const y = (s: number) => top + ((HI - clamp(s, LO, HI)) / (HI - LO)) * (bottom - top);
  const stop = (clientY: number) => {
    const box = svg.current?.getBoundingClientRect();
    return box ? HI - ((clientY - box.top - top) / (bottom - top)) * (HI - LO) : 0;
  };
  const drag = (move: (s: number) => void) => (e: PointerEvent) => {
    const target = e.currentTarget as SVGElement;
    target.setPointerCapture(e.pointerId);
    target.onpointermove = (m) => move(stop(m.clientY));
    target.onpointerup = () => {
      target.onpointermove = null;
    };
  };
  const marks = p.marks.map((m) => ({ ...m, y: y(m.scene), at: y(m.scene) }));
  const names = [...marks.filter((m) => m.quiet), ...spread(marks.filter((m) => !m.quiet))];
  const ticks: number[] = [];
  for (let s = -8; s <= 6; s++) ticks.push(s);
  return (
    <svg ref={svg} class="ladder" width={width} height={p.height} viewBox={`0 0 ${width} ${p.height}`} role="group" aria-label="Stop ladder">
      <text x={L} y="14" class="head" text-anchor="middle">scene</text>
      {!p.sceneOnly && <text x={R} y="14" class="head" text-anchor="middle">screen</text>}
      <text x={(L + R) / 2} y="14" class="small" text-anchor="middle">stops</text>
      {p.light && <path d={band(p.light, y)} class="density"><title>How much of the frame has this much light</title></path>}
      {fan(p.ladder, p.clip, p.floor).map((s) => (
        <line key={s} x1={L} x2={R} y1={y(s)} y2={y(through(p.ladder, s))} class="fan" />
      ))}
      <line x1={L} x2={L} y1={y(p.clip === null ? HI : Math.min(p.clip, HI))} y2={y(p.floor ?? LO)} class="rail" />
      <line x1={L} x2={L} y1={y(HI)} y2={y(LO)} class="rail faint" />
      {!p.sceneOnly && <line x1={R} x2={R} y1={y(screenStops(1))} y2={y(LO)} class="rail" />}
      {ticks.map((s) => (
        <g key={s}>
          <line x1={L - (s === 0 ? 10 : 5)} x2={L} y1={y(s)} y2={y(s)} class="tick" />
          {(p.clip === null || Math.abs(s - p.clip) > 0.4) && <text x={L - 32} y={y(s) + 4} text-anchor="end" class={s === 0 ? 'strong' : ''}>{s === 0 ? 'grey' : signed(s, 0)}</text>}
        </g>
      ))}
      {!p.sceneOnly && SHOWN.map((v) => (
        <g key={v}>
          <line x1={R} x2={R + 6} y1={y(screenStops(v))} y2={y(screenStops(v))} class="tick" />
          <text x={R + 10} y={y(screenStops(v)) + 4}>{`${Math.round(100 * v)} %`}</text>
        </g>
      ))}
      {p.clip !== null && p.clip <= HI && (
        <g>
          <path d={[0, 1, 2, 3, 4].map((i) => `M${L - 9 + 4 * i} ${y(p.clip ?? 0) + 4}l4-8`).join('')} class="clipmark" />
          <text x={L - 32} y={y(p.clip) + 4} text-anchor="end" class="strong over">{p.measured ? 'clips' : 'clips?'}</text>
          <title>{p.measured ? `The recording clips at ${signed(p.clip)} stops, measured` : `The curve ends at ${signed(p.clip)} stops; where the recording clips was not measured`}</title>
        </g>
      )}
      {!p.measured && <text x={L + 8} y={y(HI) + 3} class="small">clip not measured</text>}
      {p.floor !== null && (
        <g>
          <line x1={L - 9} x2={L + 9} y1={y(p.floor)} y2={y(p.floor)} class="noise" />
          <text x={L + 13} y={y(p.floor) + 4}>noise = signal</text>
        </g>
      )}
      {!p.sceneOnly && names.map((m) => (
        <line key={m.name} x1={L} x2={R} y1={y(m.scene)} y2={y(m.screen)} class="through" />
      ))}
      {names.map((m) => (
        <g key={m.name} class="mark">
          {m.doubt !== undefined && <path d={`M${L - 4} ${y(m.scene + m.doubt)}h8m-4 0V${y(m.scene - m.doubt)}m-4 0h8`} class="doubt" />}
          <circle cx={L} cy={y(m.scene)} r="5" class={m.hollow ? 'hollow' : ''} />
          {m.measured !== undefined && <path d={`M${L - 5} ${y(m.scene)}L${L - 14} ${y(m.measured)}`} class="apart" />}
          {m.measured !== undefined && <circle cx={L - 17} cy={y(m.measured)} r="4" class="measured" />}
          {!m.quiet && Math.abs(m.at - y(m.scene)) > 6 && <line x1={L + 5} x2={L + 9} y1={y(m.scene)} y2={m.at - 4} class="lead" />}
          {!m.quiet && <text x={L + 10} y={m.at} class="name">{p.sceneOnly ? `${m.name} ${signed(m.scene, 1)}` : m.name}</text>}
          <title>{`${m.name}: ${signed(m.scene)}${m.doubt === undefined ? '' : ` ± ${m.doubt.toFixed(1)}`} stops from grey in the scene${p.sceneOnly ? `, planned${m.measured === undefined ? '' : `; measured ${signed(m.measured)}`}` : `, ${signed(m.screen)} on the screen`}`}</title>
        </g>
      ))}
      {p.rungs?.points.map(([scene, out], i, all) => {
        const lo = (all[i - 1]?.[1] ?? -12) + 0.1;
        const hi = (all[i + 1]?.[1] ?? 8) - 0.1;
        const to = (o: number) => p.rungs?.move(i, Math.round(clamp(o, lo, hi) * 100) / 100);
        const plain = p.rungs?.plain ?? [];
        const gain = p.rungs?.exposure ?? 0;
        const from = y((p.rungs?.from(scene) ?? scene) - gain);
        const named = p.rungs?.of ? `${p.rungs.of[0]?.toUpperCase()}${p.rungs.of.slice(1)} rung` : 'Rung';
        const end = y(through(plain, out - gain));
        return (
          <g key={scene} class="rung">
            <line x1={L} x2={R} y1={from} y2={end} />
            <circle cx={L} cy={from} r="2.5" />
            <g
              role="slider"
              tabindex={0}
              aria-label={`${named} at ${signed(scene, 1)} stops`}
              aria-orientation="vertical"
              aria-valuemin={lo}
              aria-valuemax={hi}
              aria-valuenow={out}
              aria-valuetext={`${signed(scene, 1)} goes to ${signed(out)} stops`}
              onPointerDown={drag((s) => to(back(plain, s) + gain))}
              onKeyDown={(e) => {
                const step = e.shiftKey ? 0.25 : 0.05;
                if (e.key === 'ArrowUp') to(out + step);
                else if (e.key === 'ArrowDown') to(out - step);
                else if (e.key === 'Delete') p.rungs?.remove(i);
                else return;
                e.preventDefault();
              }}
            >
              <rect x={R - 16} y={end - 12} width="32" height="24" class="touch" />
              <rect x={R - 8} y={end - 4} width="16" height="8" rx="3" class="grip" />
              {p.rungs?.of && <text x={R - 12} y={end + 4} text-anchor="end" class="strong over of">{p.rungs.of[0]?.toUpperCase()}</text>}
              <title>{`${named} at ${signed(scene, 1)} goes to ${signed(out)}: drag, or arrow keys; Delete takes it out`}</title>
            </g>
          </g>
        );
      })}
      {p.targets?.list.map((t) => (
        <g
          key={t.region}
          class="target"
          role="slider"
          tabindex={0}
          aria-label={`Target for ${t.region}`}
          aria-orientation="vertical"
          aria-valuemin={LO}
          aria-valuemax={HI}
          aria-valuenow={t.want}
          aria-valuetext={`${t.region} wanted at ${signed(t.want)} stops, give or take ${t.tolerance}`}
          onPointerDown={drag((s) => p.targets?.move(t.region, Math.round(20 * clamp(s, LO, HI)) / 20))}
          onKeyDown={(e) => {
            const step = e.shiftKey ? 0.5 : 0.05;
            if (e.key === 'ArrowUp') p.targets?.move(t.region, t.want + step);
            else if (e.key === 'ArrowDown') p.targets?.move(t.region, t.want - step);
            else return;
            e.preventDefault();
          }}
        >
          <rect x={L - 26} y={y(t.want) - 12} width="52" height="24" class="touch" />
          <path d={`M${L - 10} ${y(t.want + t.tolerance) - 2}h-7V${y(t.want - t.tolerance) + 2}h7M${L + 10} ${y(t.want + t.tolerance) - 2}h7V${y(t.want - t.tolerance) + 2}h-7`} />
          <title>{`${t.region} wanted at ${signed(t.want)} ± ${t.tolerance}`}</title>
        </g>
      ))}
    </svg>
  );
}

/** Every second stop, to show where the path spreads and where it squeezes. */
function fan(rungs: LiveRung[], clip: number | null, floor: number | null): number[] {
  const out: number[] = [];
  if (rungs.length) for (let s = -8; s <= 6; s++) if (s <= (clip ?? HI) && s >= (floor ?? LO)) out.push(s);
  return out;
}

function band(l: LiveLight, y: (s: number) => number): string {
  const most = Math.max(...l.share, 1e-6);
  let d = '';
  l.share.forEach((v, i) => {
    const s = l.from + (i + 0.5) * l.step;
    if (s < LO || s > HI) return;
    d += `${d ? 'L' : `M${L} ${y(s)}L`}${(L - 1 - 28 * Math.sqrt(v / most)).toFixed(1)} ${y(s).toFixed(1)}`;
  });
  return `${d}L${L} ${y(HI)}Z`;
}

/** Names moved apart where marks are close. */
function spread<T extends { y: number }>(marks: T[]): (T & { at: number })[] {
  const sorted = marks.map((m) => ({ ...m, at: m.y - 5 })).sort((a, b) => a.at - b.at);
  for (let i = 1; i < sorted.length; i++) {
    const a = sorted[i - 1];
    const b = sorted[i];
    if (a && b && b.at - a.at < 13) b.at = a.at + 13;
  }
  return sorted;
}

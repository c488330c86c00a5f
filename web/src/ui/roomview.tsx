// The room to scale, from above and from the side: lamps, camera and subject
// are dragged, turned, and nudged with the keyboard.

import { useEffect, useRef, useState } from 'preact/hooks';
import type * as api from '../api/client.gen.ts';
import { aimAt, flat, type Label, metres, onFace, outline, placed, px, turned, type V2, type V3, type View, views, wedge } from '../core/room.ts';
import { clamp, signed } from '../core/stops.ts';
import * as r from './roomstate.ts';
import * as s from './state.ts';

const round = (v: V3): V3 => v.map((x) => Math.round(x * 100) / 100) as V3;
const path = (points: V2[], open = false) => (points.length ? `M${points.map((p) => `${p[0].toFixed(1)} ${p[1].toFixed(1)}`).join('L')}${open ? '' : 'Z'}` : '');
const three = (x: unknown): V3 | null => (Array.isArray(x) && x.length === 3 && x.every((n) => typeof n === 'number') ? (x as V3) : null);

export function RoomView() {
  const box = useRef<HTMLDivElement>(null);
  const [size, fit] = useState<[number, number]>([0, 0]);
  useEffect(() => {
    const el = box.current;
    if (!el) return;
    (globalThis as unknown as { lampwise: unknown }).lampwise = { state: s, room: r };
    const watch = new ResizeObserver(() => fit([el.clientWidth, el.clientHeight]));
    watch.observe(el);
    return () => watch.disconnect();
  }, []);
  const room = r.room.value;
  const stacked = size[0] < 560;
  const drawn = room && size[0] > 0 ? (stacked ? apart(room.plan.room, size[0]) : views(room.plan.room, size[0], size[1] - 26, 26, 14)) : null;
  return (
    <div class="drawings" ref={box}>
      {room && drawn?.map((v) => <Drawing key={String(v.side)} room={room} v={v} />)}
    </div>
  );
}

/** Under each other, for a narrow window. */
function apart(room: api.RoomPlan, width: number): [View, View] {
  const k = (width - 56) / Math.max(room.width, room.depth);
  return [
    { side: false, k, w: room.width, h: room.depth, margin: 26 },
    { side: true, k, w: room.depth, h: room.height, margin: 26 },
  ];
}

/** A thing that can be moved: how it is named, where it is, what its keys are. */
interface Thing {
  key: string; // of what is chosen
  name: string;
  at: V3;
  move: (to: V3) => void;
  aim?: { at: V3; facing: V3; to: (p: V3) => void };
}

function Drawing({ room, v }: { room: api.LivePlan; v: View }) {
  const svg = useRef<SVGSVGElement>(null);
  const plan = room.plan;
  const now = r.moving.value;
  const place = (e: PointerEvent): V2 => {
    const b = svg.current?.getBoundingClientRect();
    return b ? metres(v, [e.clientX - b.left, e.clientY - b.top]) : [0, 0];
  };
  const inside = (p: V3): V3 => round([clamp(p[0], 0.02, plan.room.width - 0.02), clamp(p[1], 0.02, plan.room.depth - 0.02), clamp(p[2], 0.02, plan.room.height - 0.02)]);
  const with2 = (p: V3, m: V2): V3 => (v.side ? [p[0], m[0], m[1]] : [m[0], m[1], p[2]]);
  const w = v.w * v.k + 2 * v.margin;
  const h = v.h * v.k + 2 * v.margin;
  const clip = v.side ? 'side-room' : 'plan-room';
  const see = (p: V3): V2 => px(v, flat(v, p));

  const lamps = room.lamps.map((l, i) => {
    const at = three(now[`lamp.${i}.at`]) ?? l.at;
    const aim = three(now[`lamp.${i}.aim`]);
    const facing = aim ? unit([aim[0] - at[0], aim[1] - at[1], aim[2] - at[2]]) : l.facing;
    return { ...l, at, facing, plan: plan.lamp[i] as api.LampPlan, figures: room.figures.lamps[i] as api.PlannedLamp };
  });
  const eye = three(now['camera.at']) ?? (plan.camera.at as V3);
  const look = three(now['camera.look']) ?? (plan.camera.look as V3 | undefined) ?? room.head;
  const subject = now['subject.at'] as V2 | undefined;
  const head: V3 = [subject?.[0] ?? room.head[0], subject?.[1] ?? room.head[1], (now['subject.eyes'] as number | undefined) ?? room.head[2]];

  const things: Thing[] = [
    ...lamps.map((l, i): Thing => ({
      key: `lamp.${i}`,
      name: `lamp ${l.plan.name}`,
      at: l.at,
      move: (to) => r.change(`lamp.${i}.at`, { key: `lamp.${i}.at`, value: inside(to) }),
      ...(l.plan.shape === 'ball' ? {} : { aim: { at: l.at, facing: l.facing, to: (p) => r.change(`lamp.${i}.aim`, { key: `lamp.${i}.aim`, value: round(p) }) } }),
    })),
    {
      key: 'camera',
      name: 'camera',
      at: eye,
      move: (to) => r.change('camera.at', { key: 'camera.at', value: inside(to) }),
      aim: { at: eye, facing: unit([look[0] - eye[0], look[1] - eye[1], look[2] - eye[2]]), to: (p) => r.change('camera.look', { key: 'camera.look', value: round(p) }) },
    },
    {
      key: 'subject',
      name: 'subject',
      at: head,
      move: (to) => {
        const t = inside(to);
        r.change('subject', ...(v.side ? [{ key: 'subject.at', value: [t[0], t[1]] }, { key: 'subject.eyes', value: clamp(t[2], 0.5, 2.1) }] : [{ key: 'subject.at', value: [t[0], t[1]] }]));
      },
    },
  ];

  const labels: (Label & { strong: boolean })[] = [];
  const note = (p: V2, text: string, reach: number, strong: boolean) => labels.push({ x: p[0], y: p[1], text, reach, wide: strong ? 6.9 : 6.1, strong });
  for (const l of lamps) note(see(l.at), l.plan.name, 11, true);
  note(see(eye), 'camera', 10, true);
  note(see(head), 'subject', 12, true);
  // From the side things stand before each other: there their names are told when pointed at.
  if (!v.side) for (const t of plan.thing ?? []) if (!t.quiet) note(see(t.at as V3), t.name, 3, false);
  const back = room.figures.readings.find((x) => x.region === 'background');
  if (back) note(see(back.at), 'background', 6, false);
  const lines = isolux(r.isolux.value.lines);
  const spots = lines.map((l) => {
    const p = px(v, l.at);
    return { x0: p[0] - 9, y0: p[1] - 9, x1: p[0] + 9, y1: p[1] + 5 };
  });
  const chips = lamps.map((l) => {
    const p = see(l.at);
    return { x0: p[0] - 11, y0: p[1] - 11, x1: p[0] + 11, y1: p[1] + 11 };
  });
  const spotsSeen = v.side ? [] : spots;
  const where = placed(labels, [...chips, ...spotsSeen], { x0: 2, y0: 10, x1: w - 2, y1: h - 4 });

  const lens = room.figures.lens;
  const half = ((v.side ? lens.angle_v_deg : lens.angle_h_deg) / 2) * (Math.PI / 180);
  const reach = 3 * (plan.room.width + plan.room.depth);
  const slab = (from: number, to: number) => path(wedge(flat(v, eye), flat(v, look), half, from, to).map((p) => px(v, p)));
  const [x0, y0] = px(v, [0, v.h]);
  const moves = plan.subject.move > 0 && !v.side ? plan.subject.move : 0;
  return (
    <figure class="drawing">
      <figcaption>{v.side ? 'from the right' : 'from above'} <small>{v.side ? `${plan.room.depth} × ${plan.room.height} m` : `${plan.room.width} × ${plan.room.depth} m`}</small></figcaption>
      <svg ref={svg} width={w} height={h} viewBox={`0 0 ${w} ${h}`} role="group" aria-label={v.side ? 'The room from the right' : 'The room from above'}>
        <clipPath id={clip}><rect x={x0} y={y0} width={v.w * v.k} height={v.h * v.k} /></clipPath>
        <g clip-path={`url(#${clip})`}>
          <rect x={x0} y={y0} width={v.w * v.k} height={v.h * v.k} class="floor" />
          <path d={slab(0.01, reach)} class="seen" />
          <path d={slab(lens.near_m, Math.min(lens.far_m ?? reach, reach))} class="sharp"><title>{`sharp from ${lens.near_m.toFixed(2)} m to ${lens.far_m === null ? 'infinity' : `${lens.far_m.toFixed(2)} m`} from the lens`}</title></path>
          {!v.side && r.isolux.value.lines.map((l, i) => <path key={`${l.stop} ${i}`} d={path(l.points.map((p) => px(v, p)), true)} class={`isolux${l.stop === 0 ? ' zero' : ''}${r.isolux.value.of === r.text.value ? '' : ' stale'}`} />)}
        </g>
        {(plan.thing ?? []).map((t, i) => <path key={`${t.name} ${i}`} d={path(outline(v, t).map((p) => px(v, p)))} class="thing"><title>{t.name}</title></path>)}
        <rect x={x0} y={y0} width={v.w * v.k} height={v.h * v.k} class="walls" />
        {!v.side && lamps.map((l, i) => l.cable.length > 1 && <path key={`cable ${l.plan.name} ${i}`} d={path(l.cable.map((p) => px(v, p)), true)} class="cable"><title>{`cable of ${l.plan.name}: ${(l.figures.cable_m ?? 0).toFixed(1)} m`}</title></path>)}
        {!v.side && (plan.circuit ?? []).map((c) => c.at && <Socket key={c.name} at={px(v, c.at as V2)} name={c.name} />)}
        {moves > 0 && <path d={path([[head[0] - moves, head[1]], [head[0] + moves, head[1]]].map((p) => px(v, p as V2)), true)} class="moves"><title>{`the head goes ${moves} m to each side`}</title></path>}
        <Person v={v} head={head} facing={room.facing} />
        {back && <path d={cross(see(back.at), 5)} class="spot" />}
        <Eye at={see(eye)} to={see(look)} />
        {lamps.map((l, i) => <path key={`face ${l.plan.name} ${i}`} d={face(v, l)} class={`lampface${l.figures.level > 0 ? '' : ' dark'}`} />)}
        {lamps.map((l, i) => l.plan.shape !== 'ball' && <path key={`way ${l.plan.name} ${i}`} d={arrow(see(l.at), see([l.at[0] + 0.45 * l.facing[0], l.at[1] + 0.45 * l.facing[1], l.at[2] + 0.45 * l.facing[2]]))} class="way" />)}
        {!v.side && lines.map((l) => <text key={l.stop} x={px(v, l.at)[0]} y={px(v, l.at)[1] + 4} text-anchor="middle" class="isostop">{l.stop === 0 ? 'grey' : signed(l.stop, 0)}</text>)}
        {labels.map((l, i) => <text key={`${l.text} ${i}`} x={where[i]?.x} y={where[i]?.y} text-anchor={where[i]?.anchor} class={l.strong ? 'name' : 'thingname'}>{l.text}</text>)}
        {things.map((t, i) => <Handle key={t.key} t={t} v={v} see={see} place={place} with2={with2} lamp={lamps[i]} n={i + 1} />)}
      </svg>
      {v.side && (
        <p class="note keys">
          Drag lamps, camera and subject; drag a ring to turn. With the keyboard: <kbd>arrows</kbd> move, <kbd>Page Up</kbd> <kbd>Page Down</kbd> lift, <kbd>[</kbd> <kbd>]</kbd> turn, <kbd>{'{'}</kbd> <kbd>{'}'}</kbd> tilt, with <kbd>Shift</kbd> in larger steps. Lines: equal light at the eyes' height, a stop apart, on planes that face the camera. Lighter: what the lens sees, lightest what is sharp.
        </p>
      )}
    </figure>
  );
}

/** What is taken hold of: a disc at its place, and when chosen a ring where it points. */
function Handle({ t, v, see, place, with2, lamp, n }: { t: Thing; v: View; see: (p: V3) => V2; place: (e: PointerEvent) => V2; with2: (p: V3, m: V2) => V3; lamp: { figures: api.PlannedLamp } | undefined; n: number }) {
  const chosen = r.chosen.value === t.key;
  const at = see(t.at);
  const drag = (move: (m: V2) => void) => (e: PointerEvent) => {
    const target = e.currentTarget as SVGElement;
    target.setPointerCapture(e.pointerId);
    r.hold();
    r.chosen.value = t.key;
    target.onpointermove = (m) => move(place(m));
    target.onpointerup = target.onpointercancel = () => {
      r.release();
      target.onpointermove = null;
      target.onpointerup = null;
    };
  };
  const from = t.at;
  const keys = (e: KeyboardEvent) => {
    const d = e.shiftKey ? 0.25 : 0.05;
    const step: Record<string, V3> = v.side
      ? { ArrowLeft: [0, -d, 0], ArrowRight: [0, d, 0], ArrowUp: [0, 0, d], ArrowDown: [0, 0, -d] }
      : { ArrowLeft: [-d, 0, 0], ArrowRight: [d, 0, 0], ArrowUp: [0, d, 0], ArrowDown: [0, -d, 0], PageUp: [0, 0, d], PageDown: [0, 0, -d] };
    const to = step[e.key];
    if (to) t.move([from[0] + to[0], from[1] + to[1], from[2] + to[2]]);
    else if (t.aim && (e.key === '[' || e.key === ']')) t.aim.to(ahead(t.aim.at, turned(t.aim.facing, e.key === '[' ? 5 : -5, 0)));
    else if (t.aim && (e.key === '{' || e.key === '}')) t.aim.to(ahead(t.aim.at, turned(t.aim.facing, 0, e.key === '}' ? 5 : -5)));
    else if (e.key === 'Enter' || e.key === ' ') r.chosen.value = t.key;
    else return;
    e.preventDefault();
  };
  const rgb = lamp?.figures.shown_bt709 ? shade(lamp.figures.shown_bt709) : '';
  const where = `${from.map((x) => x.toFixed(2)).join(', ')} m`;
  const label = `${t.name}${v.side ? ', from the side' : ''}, at ${where}`;
  const hint = `arrow keys move it${v.side ? '' : ', Page Up and Down lift it'}${t.aim ? ', [ ] turn it, { } tilt it' : ''}; with Shift farther`;
  const ring = t.aim && chosen ? see(ahead(t.aim.at, t.aim.facing)) : null;
  return (
    <g class={`hold${chosen ? ' on' : ''}`}>
      {ring && t.aim && (
        <g>
          <line x1={at[0]} y1={at[1]} x2={ring[0]} y2={ring[1]} class="aimline" />
          <circle cx={ring[0]} cy={ring[1]} r="12" class="touch" onPointerDown={drag((m) => t.aim?.to(aimAt(v, t.aim.at, t.aim.facing, m)))}><title>{`${t.name} points here: drag to turn it`}</title></circle>
          <circle cx={ring[0]} cy={ring[1]} r="6" class="aim" />
        </g>
      )}
      {lamp && <circle cx={at[0]} cy={at[1]} r="9" class={`lampchip${rgb ? '' : ' plain'}`} style={rgb ? { fill: rgb } : undefined} />}
      {lamp && <text x={at[0]} y={at[1] + 4} text-anchor="middle" class={rgb ? 'chipno' : 'chipno plain'}>{n}</text>}
      <g
        role="button"
        tabindex={0}
        aria-pressed={chosen}
        aria-label={label}
        aria-description={hint}
        onPointerDown={drag((m) => t.move(with2(from, m)))}
        onKeyDown={keys}
        onFocus={() => { r.chosen.value = t.key; }}
      >
        <circle cx={at[0]} cy={at[1]} r="13" class="touch" />
        <circle cx={at[0]} cy={at[1]} r={lamp ? 12 : 11} class="ringed" />
        <title>{label}</title>
      </g>
    </g>
  );
}

const ahead = (at: V3, facing: V3): V3 => [at[0] + 0.8 * facing[0], at[1] + 0.8 * facing[1], at[2] + 0.8 * facing[2]];

function unit(v: V3): V3 {
  const l = Math.hypot(...v) || 1;
  return [v[0] / l, v[1] / l, v[2] / l];
}

export function shade(linear: [number, number, number]): string {
  return `rgb(${linear.map((x) => Math.round(255 * (0.92 * clamp(x, 0, 1)) ** (1 / 2.4))).join(' ')})`;
}

/** The outline of a lamp's face as the view sees it. */
function face(v: View, l: { at: V3; across: V3; up: V3; facing: V3; plan: api.LampPlan }): string {
  const [a = 0, b = a] = l.plan.size ?? [];
  const see = (p: V3) => px(v, flat(v, p));
  const round = (ra: number, rb: number) => Array.from({ length: 24 }, (_, i) => see(onFace(l, ra * Math.cos((i * Math.PI) / 12), rb * Math.sin((i * Math.PI) / 12))));
  switch (l.plan.shape) {
    case 'ball': {
      const c = see(l.at);
      return path(Array.from({ length: 32 }, (_, i) => [c[0] + (v.k * a * Math.cos((i * Math.PI) / 16)) / 2, c[1] + (v.k * a * Math.sin((i * Math.PI) / 16)) / 2]));
    }
    case 'disc':
      return path(round(a / 2, a / 2));
    case 'rectangle':
    case 'tube':
      return path([onFace(l, -a / 2, -b / 2), onFace(l, a / 2, -b / 2), onFace(l, a / 2, b / 2), onFace(l, -a / 2, b / 2)].map(see));
  }
  return '';
}

function arrow(a: V2, b: V2): string {
  const dx = b[0] - a[0];
  const dy = b[1] - a[1];
  const l = Math.hypot(dx, dy);
  if (l < 14) return '';
  const [x, y] = [dx / l, dy / l];
  return `M${a[0] + 10 * x} ${a[1] + 10 * y}L${b[0]} ${b[1]}M${b[0] - 5 * x - 4 * y} ${b[1] - 5 * y + 4 * x}L${b[0]} ${b[1]}L${b[0] - 5 * x + 4 * y} ${b[1] - 5 * y - 4 * x}`;
}

const cross = (p: V2, s: number) => `M${p[0] - s} ${p[1]}h${2 * s}M${p[0]} ${p[1] - s}v${2 * s}`;

function Person({ v, head, facing }: { v: View; head: V3; facing: V3 }) {
  const c = px(v, flat(v, head));
  const f = flat(v, facing);
  const l = Math.hypot(...f) || 1;
  const [ux, uy] = [f[0] / l, -f[1] / l];
  const k = v.k;
  const body = v.side
    ? path([[head[1] - 0.11, head[2] - 0.2], [head[1] + 0.11, head[2] - 0.2], [head[1] + 0.13, 0.02], [head[1] - 0.13, 0.02]].map((p) => px(v, p as V2)))
    : path(Array.from({ length: 24 }, (_, i) => {
        const a = 0.23 * k * Math.cos((i * Math.PI) / 12);
        const b = 0.11 * k * Math.sin((i * Math.PI) / 12);
        return [c[0] - uy * a + ux * b, c[1] + ux * a + uy * b] as V2;
      }));
  return (
    <g class="person">
      <path d={body} />
      <path d={path([[c[0] + k * (0.09 * ux - 0.035 * uy), c[1] + k * (0.09 * uy + 0.035 * ux)], [c[0] + 0.15 * k * ux, c[1] + 0.15 * k * uy], [c[0] + k * (0.09 * ux + 0.035 * uy), c[1] + k * (0.09 * uy - 0.035 * ux)]])} />
      <circle cx={c[0]} cy={c[1]} r={0.1 * k} />
    </g>
  );
}

function Eye({ at, to }: { at: V2; to: V2 }) {
  const a = (Math.atan2(to[1] - at[1], to[0] - at[0]) * 180) / Math.PI;
  return <path class="camera" transform={`translate(${at[0]} ${at[1]}) rotate(${a})`} d="M-11 -6H3V6H-11ZM3 -3L9 -6V6L3 3Z" />;
}

function Socket({ at, name }: { at: V2; name: string }) {
  return (
    <g class="socket">
      <circle cx={at[0]} cy={at[1]} r="5" />
      <circle cx={at[0]} cy={at[1]} r="1.4" class="hole" />
      <title>{`socket of circuit ${name}`}</title>
    </g>
  );
}

/** Where each stop's line is named: in the middle of its longest. */
function isolux(lines: api.LiveIsolux[]): { stop: number; at: V2 }[] {
  const longest = new Map<number, V2[]>();
  for (const l of lines) if (l.points.length > (longest.get(l.stop)?.length ?? 0)) longest.set(l.stop, l.points);
  return [...longest].map(([stop, points]) => ({ stop, at: points[Math.floor(points.length * 0.37)] as V2 }));
}

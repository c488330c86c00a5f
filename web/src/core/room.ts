// The geometry of the room's drawings. No DOM here.

export type V3 = [number, number, number];
export type V2 = [number, number];

/** A drawing to scale: room metres to pixels, up on the paper being up. */
export interface View {
  side: boolean; // seen from the right: depth across, height up
  k: number; // px a metre
  w: number; // m across
  h: number; // m up
  margin: number; // px round the room
}

/** What of a place the view shows, in metres. */
export const flat = (v: View, p: V3): V2 => (v.side ? [p[1], p[2]] : [p[0], p[1]]);

export const px = (v: View, m: V2): V2 => [v.margin + v.k * m[0], v.margin + v.k * (v.h - m[1])];

export const metres = (v: View, p: V2): V2 => [(p[0] - v.margin) / v.k, v.h - (p[1] - v.margin) / v.k];

/** The room from above and from the side, at one scale, as large as a space lets them. */
export function views(room: { width: number; depth: number; height: number }, width: number, height: number, margin: number, gap: number): [View, View] {
  const k = Math.max(24, Math.min((width - gap - 4 * margin) / (room.width + room.depth), (height - 2 * margin) / room.depth));
  return [
    { side: false, k, w: room.width, h: room.depth, margin },
    { side: true, k, w: room.depth, h: room.height, margin },
  ];
}

const add = (a: V3, b: V3, k: number): V3 => [a[0] + k * b[0], a[1] + k * b[1], a[2] + k * b[2]];

/** A point of a lamp's face: a along its width, b along its height, c before it. */
export const onFace = (l: { at: V3; across: V3; up: V3; facing: V3 }, a: number, b: number, c = 0): V3 => add(add(add(l.at, l.across, a), l.up, b), l.facing, c);

/** A lamp's aim when its arrow is turned to point at a place of the view: what the view doesn't show stays. */
export function aimAt(v: View, at: V3, facing: V3, to: V2): V3 {
  const f = flat(v, at);
  let d: V2 = [to[0] - f[0], to[1] - f[1]];
  const l = Math.hypot(d[0], d[1]);
  if (l < 0.02) return add(at, facing, 1);
  d = [d[0] / l, d[1] / l];
  const shown = flat(v, facing);
  const long = Math.max(0.15, Math.hypot(shown[0], shown[1]));
  const dir: V3 = v.side ? [facing[0], d[0] * long, d[1] * long] : [d[0] * long, d[1] * long, facing[2]];
  const n = Math.hypot(...dir);
  return add(at, [dir[0] / n, dir[1] / n, dir[2] / n], 1);
}

/** The way a lamp faces, turned by degrees about the vertical, or lifted. */
export function turned(facing: V3, about: number, lift: number): V3 {
  const level = Math.hypot(facing[0], facing[1]);
  const yaw = Math.atan2(facing[1], facing[0]) + (about * Math.PI) / 180;
  const pitch = Math.max(-Math.PI / 2, Math.min(Math.PI / 2, Math.atan2(facing[2], level) + (lift * Math.PI) / 180));
  return [Math.cos(pitch) * Math.cos(yaw), Math.cos(pitch) * Math.sin(yaw), Math.sin(pitch)];
}

/** The compass of a lamp: degrees anticlockwise from the right wall, and over the level. */
export function bearing(facing: V3): { about: number; lift: number } {
  const deg = 180 / Math.PI;
  return { about: deg * Math.atan2(facing[1], facing[0]), lift: deg * Math.atan2(facing[2], Math.hypot(facing[0], facing[1])) };
}

/** What the lens sees between two distances, in the view's metres: a slab square to its axis. */
export function wedge(eye: V2, look: V2, half: number, from: number, to: number): V2[] {
  const along = Math.atan2(look[1] - eye[1], look[0] - eye[0]);
  const corner = (a: number, d: number): V2 => [eye[0] + (d / Math.cos(a)) * Math.cos(along + a), eye[1] + (d / Math.cos(a)) * Math.sin(along + a)];
  return [corner(-half, from), corner(-half, to), corner(half, to), corner(half, from)];
}

/** A box's outline in the view. */
export function outline(v: View, t: { at: number[]; size: number[]; turn?: number }): V2[] {
  const [x = 0, y = 0, z = 0] = t.at;
  const [w = 0, d = 0, h = 0] = t.size;
  const a = ((t.turn ?? 0) * Math.PI) / 180;
  const sin = Math.sin(a);
  const cos = Math.cos(a);
  if (v.side) {
    const half = (Math.abs(sin) * w + Math.abs(cos) * d) / 2;
    return [[y - half, z - h / 2], [y + half, z - h / 2], [y + half, z + h / 2], [y - half, z + h / 2]];
  }
  return ([[-1, -1], [1, -1], [1, 1], [-1, 1]] as V2[]).map(([i, j]) => [x + (cos * i * w) / 2 - (sin * j * d) / 2, y + (sin * i * w) / 2 + (cos * j * d) / 2]);
}

export interface Label {
  x: number;
  y: number;
  reach: number; // px kept free round the place
  text: string;
  wide: number; // px a letter
}

interface Box {
  x0: number;
  y0: number;
  x1: number;
  y1: number;
}

/** Names beside their places, the first ones first, none over another where that can be. */
export function placed(labels: Label[], keep: Box[], within: Box): { x: number; y: number; anchor: 'start' | 'middle' | 'end' }[] {
  const taken = [...keep];
  const overlap = (b: Box) => {
    let sum = 0;
    for (const t of taken) sum += Math.max(0, Math.min(b.x1, t.x1) - Math.max(b.x0, t.x0)) * Math.max(0, Math.min(b.y1, t.y1) - Math.max(b.y0, t.y0));
    const out = Math.max(0, within.x0 - b.x0) + Math.max(0, b.x1 - within.x1) + Math.max(0, within.y0 - b.y0) + Math.max(0, b.y1 - within.y1);
    return sum + 40 * out;
  };
  return labels.map((l) => {
    const w = l.wide * l.text.length;
    const r = l.reach + 3;
    const tries: { x: number; y: number; anchor: 'start' | 'middle' | 'end' }[] = [
      { x: l.x + r, y: l.y + 4, anchor: 'start' },
      { x: l.x - r, y: l.y + 4, anchor: 'end' },
      { x: l.x, y: l.y - r - 2, anchor: 'middle' },
      { x: l.x, y: l.y + r + 11, anchor: 'middle' },
      { x: l.x + r * 0.7, y: l.y - r * 0.7 - 3, anchor: 'start' },
      { x: l.x + r * 0.7, y: l.y + r * 0.7 + 11, anchor: 'start' },
      { x: l.x - r * 0.7, y: l.y - r * 0.7 - 3, anchor: 'end' },
      { x: l.x - r * 0.7, y: l.y + r * 0.7 + 11, anchor: 'end' },
      { x: l.x, y: l.y - r - 15, anchor: 'middle' },
      { x: l.x, y: l.y + r + 25, anchor: 'middle' },
    ];
    const box = (t: { x: number; y: number; anchor: string }): Box => {
      const x0 = t.anchor === 'start' ? t.x : t.anchor === 'end' ? t.x - w : t.x - w / 2;
      return { x0, x1: x0 + w, y0: t.y - 11, y1: t.y + 3 };
    };
    let best = tries[0] as (typeof tries)[0];
    let least = Number.POSITIVE_INFINITY;
    tries.forEach((t, i) => {
      const o = overlap(box(t)) + i * 0.1;
      if (o < least) {
        least = o;
        best = t;
      }
    });
    taken.push(box(best));
    return best;
  });
}

/** A number as a plan's file writes it: at most so many digits, no idle zeros. */
export const figure = (x: number, digits = 2): string => String(Number(x.toFixed(digits)));

export const place = (p: number[]): string => `[${p.map((x) => x.toFixed(2)).join(', ')}]`;

/** A target as the plan writes it, taken apart: a place, the stops wanted, give or take. */
export function simpleTarget(text: string): { region: string; want: number; tolerance: number } | null {
  const m = /^\s*([\w-]+)\s*=\s*([+−-]?[\d.]+)\s*(?:±\s*([\d.]+))?\s*$/.exec(text);
  if (!m) return null;
  const want = Number((m[2] ?? '').replace('−', '-'));
  return Number.isFinite(want) ? { region: m[1] ?? '', want, tolerance: Number(m[3] ?? 0.2) } : null;
}

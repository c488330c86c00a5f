// A stage's own control, drawn for what it is.

import type { Grade } from '../api/client.gen.ts';
import type { Stage } from '../core/path.ts';
import { signed } from '../core/stops.ts';
import { Choice, Dial } from './parts.tsx';
import { clip, edit, gradeFile, pickingCard, right, stage, started } from './state.ts';

const about: Record<Stage, string> = {
  decode: 'recorded code to scene light: which camera curve, where it clips',
  exposure: 'scene light, times two to the stops',
  balance: 'the white as recorded is moved to neutral in scene light',
  split: 'shadow, middle and high range are tinted apart; + is warmer, Duv + is greener',
  curve: 'drag the right ends of the rungs on the ladder; the band at its left is the frame’s light',
  saturation: 'distance from luma, in log',
  convert: 'log to the screen: the tone scale meets white where the recording clips',
  look: 'a LUT on the finished signal, at part strength',
  vignette: 'screen light falls off toward the edge; the ellipse on the picture is where it begins and ends',
  encode: 'what the finished file holds',
};

export function Control({ g }: { g: Grade }) {
  const s = stage.value;
  return (
    <section class="control" aria-label={`${s} settings`}>
      <h2>
        {s} <small>{about[s]}</small>
      </h2>
      {g[s].off ? (
        <p>
          This stage is off. <button type="button" onClick={() => edit(`off ${s}`, (x) => { x[s].off = false; })}>turn it on</button>
        </p>
      ) : (
        <div class="fields">{fields(g, s)}</div>
      )}
    </section>
  );
}

function fields(g: Grade, s: Stage) {
  switch (s) {
    case 'decode':
      return [
        <Choice key="c" name="camera curve" value={g.decode.curve} options={(started.value?.curves ?? []).map((c) => [c, c])} set={(v) => edit('curve id', (x) => { x.decode.curve = v; x.decode.gamut = ''; })} />,
        <Choice key="r" name="range" value={g.decode.range} options={[['auto', `as tagged (${clip.value?.range ?? '?'})`], ['narrow', 'narrow'], ['full', 'full']]} set={(v) => edit('range', (x) => { x.decode.range = v; })} />,
        <Dial key="k" name="recording clips at" unit="code of 10 bits; 0 = not measured" value={g.decode.clip} min={0} max={1087} step={1} digits={0} set={(v) => edit('clip', (x) => { x.decode.clip = v; })} />,
      ];
    case 'exposure':
      return [<Dial key="e" name="exposure" unit="stop" value={g.exposure.stops} min={-4} max={4} step={0.05} ticks={1} about="light × 2^stops" set={(v) => edit('exposure', (x) => { x.exposure.stops = v; })} />];
    case 'balance': {
      const w = g.balance.white;
      return [
        <div key="p" class="choice">
          <span>grey card</span>
          <button type="button" aria-pressed={pickingCard.value} onClick={() => { pickingCard.value = !pickingCard.value; }}>{pickingCard.value ? 'now click the card in the picture' : 'pick it in the picture'}</button>
        </div>,
        <Dial key="t" name="white as recorded" unit="K" value={w.cct ?? 5600} min={2000} max={12000} step={50} digits={0} about="correlated colour temperature (CIE 015); CAT16 adaptation" set={(v) => edit('cct', (x) => { x.balance.white = { cct: v, duv: x.balance.white.duv ?? 0 }; })} />,
        <Dial key="d" name="across, green to pink" unit="Duv" value={w.duv ?? 0} min={-0.03} max={0.03} step={0.0005} digits={4} ticks={0.01} about="Duv, ANSI C78.377" set={(v) => edit('duv', (x) => { x.balance.white = { cct: x.balance.white.cct ?? 5600, duv: v }; })} />,
        <Dial key="k" name="warmth kept" unit="part" value={g.balance.keep} min={0} max={1} step={0.01} set={(v) => edit('keep', (x) => { x.balance.keep = v; })} />,
      ];
    }
    case 'split':
      return (['high', 'middle', 'shadow'] as const).map((band) => (
        <fieldset key={band} class="band">
          <legend>
            {band} <small>about {signed(g.split.centres[band === 'shadow' ? 0 : band === 'middle' ? 1 : 2], 1)} stops</small>
          </legend>
          {g.split.counter === band ? (
            <p>solved so that the mean colour stays where it was</p>
          ) : (
            <>
              <Dial name="cool to warm" unit="mired" value={g.split[band].mired} min={-60} max={60} step={1} digits={0} ticks={20} set={(v) => edit(`split ${band}`, (x) => { x.split[band].mired = v; })} />
              <Dial name="pink to green" unit="Duv" value={g.split[band].duv} min={-0.02} max={0.02} step={0.0005} digits={4} set={(v) => edit(`splitd ${band}`, (x) => { x.split[band].duv = v; })} />
            </>
          )}
          <button type="button" aria-pressed={g.split.counter === band} onClick={() => edit('counter', (x) => { x.split.counter = x.split.counter === band ? 'none' : band; })}>counter-push</button>
        </fieldset>
      ));
    case 'curve':
      return [<ReadOut key="r" g={g} />];
    case 'saturation':
      return [<Dial key="s" name="saturation" unit="× distance from luma" value={g.saturation.amount} min={0} max={2} step={0.01} ticks={0.5} set={(v) => edit('sat', (x) => { x.saturation.amount = v; })} />];
    case 'convert':
      return [
        <Dial key="s" name="contrast at grey" unit="screen stops a scene stop" value={g.convert.slope} min={0.6} max={1.8} step={0.01} ticks={0.2} set={(v) => edit('slope', (x) => { x.convert.slope = v; })} />,
        <Dial key="t" name="shadows bend to black at" unit="stops from grey" value={g.convert.toe} min={-12} max={-3} step={0.1} digits={1} ticks={1} set={(v) => edit('toe', (x) => { x.convert.toe = v; })} />,
        <Dial key="p" name="signal at the clip" unit="of 1" value={g.convert.peak} min={0.7} max={1} step={0.005} set={(v) => edit('peak', (x) => { x.convert.peak = v; })} />,
        <Choice key="a" name="applied" value={g.convert.apply} options={[['norm', 'to the largest channel: hue stays'], ['channels', 'to each channel']]} set={(v) => edit('apply', (x) => { x.convert.apply = v; })} />,
      ];
    case 'look':
      return [
        <Choice key="l" name="LUT" value={g.look.lut} options={lutOptions(g.look.lut)} set={(v) => edit('look', (x) => { x.look.lut = v; })} />,
        <Dial key="s" name="strength" unit="part" value={g.look.strength} min={0} max={1} step={0.01} ticks={0.1} about="out = in + k·(LUT(in) − in). Common practice, no source: strong looks sit well at 0.4 to 0.5" set={(v) => edit('strength', (x) => { x.look.strength = v; })} />,
      ];
    case 'vignette':
      return [
        <Dial key="s" name="darker outside by" unit="stop" value={g.vignette.stops} min={0} max={4} step={0.05} ticks={1} set={(v) => edit('vstops', (x) => { x.vignette.stops = v; })} />,
        <Dial key="i" name="begins at" unit="half diagonals" value={g.vignette.inner} min={0} max={1.5} step={0.01} set={(v) => edit('vinner', (x) => { x.vignette.inner = v; })} />,
        <Dial key="f" name="falls over" unit="half diagonals" value={g.vignette.softness} min={0.1} max={2} step={0.01} set={(v) => edit('vsoft', (x) => { x.vignette.softness = v; })} />,
        <Dial key="a" name="width over height" unit="" value={g.vignette.aspect} min={0.5} max={3} step={0.05} set={(v) => edit('vaspect', (x) => { x.vignette.aspect = v; })} />,
      ];
    case 'encode':
      return [
        <Choice key="b" name="bits" value={String(g.encode.bits)} options={[['8', '8'], ['10', '10'], ['12', '12']]} set={(v) => edit('bits', (x) => { x.encode.bits = Number(v); })} />,
        <Choice key="s" name="chroma" value={g.encode.sub} options={[['4:2:0', '4:2:0'], ['4:2:2', '4:2:2'], ['4:4:4', '4:4:4']]} set={(v) => edit('sub', (x) => { x.encode.sub = v; })} />,
        <Choice key="l" name="limiter" value={g.encode.limiter} options={[['rgb', 'R′G′B′ inside 0 to 100 %'], ['off', 'off']]} set={(v) => edit('limiter', (x) => { x.encode.limiter = v; })} />,
        <Choice key="d" name="dither" value={g.encode.dither} options={[['triangular', 'triangular'], ['blue', 'blue noise'], ['none', 'none']]} set={(v) => edit('dither', (x) => { x.encode.dither = v; })} />,
      ];
  }
}

function lutOptions(now: string): [string, string][] {
  const folder = gradeFile.value.slice(0, gradeFile.value.lastIndexOf('/') + 1);
  const files = (started.value?.files ?? []).filter((f) => f.kind === 'lut' && f.id.startsWith(folder)).map((f) => f.id.slice(folder.length));
  const all = now && !files.includes(now) ? [now, ...files] : files;
  return [['', 'none'], ...all.map((f): [string, string] => [f, f])];
}

/** The curve drawn over its straight line, and its slopes: a read-out only. */
function ReadOut({ g }: { g: Grade }) {
  const points = g.curve.master ?? [];
  const x = (s: number) => 10 + ((s + 8) / 14) * 130;
  const y = (s: number) => 140 - ((s + 8) / 14) * 130;
  const slopes = points.slice(1).map((p, i) => {
    const a = points[i] as [number, number];
    return (p[1] - a[1]) / (p[0] - a[0]);
  });
  const noteOf = right.value?.head.notes ?? [];
  return (
    <div class="readout">
      <svg width="150" height="150" role="img" aria-label={`Curve: ${points.map((p) => `${signed(p[0], 1)} to ${signed(p[1])}`).join(', ')}`}>
        <rect x="10" y="10" width="130" height="130" class="frame" />
        <path d={`M${x(-8)} ${y(-8)}L${x(6)} ${y(6)}`} class="straight" />
        <polyline points={points.map((p) => `${x(p[0]).toFixed(1)},${y(p[1]).toFixed(1)}`).join(' ')} class="line" />
        {points.map((p) => <circle key={p[0]} cx={x(p[0])} cy={y(p[1])} r="2.5" />)}
        <text x="14" y="24">read-out</text>
      </svg>
      <div>
        <p>
          {points.length ? <>Slope from <b>{Math.min(...slopes).toFixed(2)}</b> to <b>{Math.max(...slopes).toFixed(2)}</b>: where rungs spread on the screen side, contrast rises.</> : 'No rungs yet: the curve is straight.'}
        </p>
        <div class="rungs">
          {points.map((p) => (
            <span key={p[0]}>
              {signed(p[0], 1)} → <b>{signed(p[1])}</b>
            </span>
          ))}
        </div>
        <p class="buttons">
          <button type="button" onClick={() => edit('rung add', (v) => { v.curve.master = withRung(v.curve.master ?? []); })}>add a rung</button>
          <button type="button" onClick={() => edit('straight', (v) => { v.curve.master = [[-6, -6], [-3, -3], [0, 0], [2, 2], [4, 4]]; })}>straighten</button>
        </p>
        {noteOf.length > 0 && <p class="note">{noteOf[0]}</p>}
      </div>
    </div>
  );
}

/** One rung more, in the middle of the widest gap. */
function withRung(points: [number, number][]): [number, number][] {
  if (points.length < 2) return [[-6, -6], [-3, -3], [0, 0], [2, 2], [4, 4]];
  let widest = 1;
  for (let i = 1; i < points.length; i++) if (gap(points, i) > gap(points, widest)) widest = i;
  const a = points[widest - 1] as [number, number];
  const b = points[widest] as [number, number];
  return [...points.slice(0, widest), [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], ...points.slice(widest)];
}
const gap = (p: [number, number][], i: number) => (p[i]?.[0] ?? 0) - (p[i - 1]?.[0] ?? 0);

// A stage's own control, drawn for what it is.

import type { Grade } from '../api/client.gen.ts';
import type { Stage } from '../core/path.ts';
import { CurveReadOut } from './curve.tsx';
import { Choice, Dial } from './parts.tsx';
import { SplitStrips } from './split.tsx';
import { clip, edit, gradeFile, pickingCard, stage, started } from './state.ts';

const about: Record<Stage, string> = {
  decode: 'recorded code to scene light: which camera curve, where it clips',
  exposure: 'scene light, times two to the stops',
  balance: 'the white as recorded is moved to neutral in scene light',
  split: 'bands of light tinted apart; more light is up, the line is what each light gets',
  curve: 'drag the rungs’ right ends on the ladder; the band at its left is the frame’s light',
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
      return [<SplitStrips key="s" g={g} />];
    case 'curve':
      return [<CurveReadOut key="r" g={g} />];
    case 'saturation':
      return [<Dial key="s" name="saturation" unit="× distance from luma" value={g.saturation.amount} min={0} max={2} step={0.01} ticks={0.5} set={(v) => edit('sat', (x) => { x.saturation.amount = v; })} />];
    case 'convert': {
      const own = g.convert.by === 'lut';
      return [
        <Choice key="b" name="by" value={own ? g.convert.lut : ''} options={lutOptions(own ? g.convert.lut : '', 'our tone scale')} set={(v) => edit('convert', (x) => { x.convert.by = v ? 'lut' : 'tone'; x.convert.lut = v; })} />,
        ...(own ? convertByLUT(g) : convertByTone(g)),
      ];
    }
    case 'look':
      return [
        <Choice key="l" name="LUT" value={g.look.lut} options={lutOptions(g.look.lut, 'none')} set={(v) => edit('look', (x) => { x.look.lut = v; })} />,
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

const convertByTone = (g: Grade) => [
  <Dial key="s" name="contrast at grey" unit="screen stops a scene stop" value={g.convert.slope} min={0.6} max={1.8} step={0.01} ticks={0.2} set={(v) => edit('slope', (x) => { x.convert.slope = v; })} />,
  <Dial key="t" name="shadows bend to black at" unit="stops from grey" value={g.convert.toe} min={-12} max={-3} step={0.1} digits={1} ticks={1} set={(v) => edit('toe', (x) => { x.convert.toe = v; })} />,
  <Dial key="p" name="signal at the clip" unit="of 1" value={g.convert.peak} min={0.7} max={1} step={0.005} set={(v) => edit('peak', (x) => { x.convert.peak = v; })} />,
  <Choice key="a" name="applied" value={g.convert.apply} options={[['norm', 'to the largest channel: hue stays'], ['channels', 'to each channel']]} set={(v) => edit('apply', (x) => { x.convert.apply = v; })} />,
];

const levels: [string, string][] = [['data', 'code ÷ 1023'], ['video', '(code − 64) ÷ 876']];

const convertByLUT = (g: Grade) => [
  <Choice key="i" name="it takes 0 to 1 as" value={g.convert.lut_in} options={levels} set={(v) => edit('lut in', (x) => { x.convert.lut_in = v; })} />,
  <Choice key="o" name="it gives 0 to 1 as" value={g.convert.lut_out} options={levels} set={(v) => edit('lut out', (x) => { x.convert.lut_out = v; })} />,
  <p key="n" class="note lutnote">A LUT made for this camera curve takes log to the screen in place of ours. Whoever made it says what its numbers are; blacks that come out grey or crushed mean that one of the two is wrong.</p>,
];

/** LUTs beside the grade; none is what no LUT is called. */
function lutOptions(now: string, none: string): [string, string][] {
  const folder = gradeFile.value.slice(0, gradeFile.value.lastIndexOf('/') + 1);
  const files = (started.value?.files ?? []).filter((f) => f.kind === 'lut' && f.id.startsWith(folder)).map((f) => f.id.slice(folder.length));
  const all = now && !files.includes(now) ? [now, ...files] : files;
  return [['', none], ...all.map((f): [string, string] => [f, f])];
}

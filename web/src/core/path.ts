// The path's stages as the page lists them. No DOM here.

import type { Grade } from '../api/types.gen.ts';
import { percent, signed } from './stops.ts';

export type Stage = 'decode' | 'exposure' | 'balance' | 'split' | 'curve' | 'saturation' | 'convert' | 'look' | 'vignette' | 'encode';

export const zones: { name: string; stages: Stage[] }[] = [
  { name: 'scene light', stages: ['decode', 'exposure', 'balance'] },
  { name: 'log', stages: ['split', 'curve', 'saturation'] },
  { name: 'to screen', stages: ['convert'] },
  { name: 'screen', stages: ['look', 'vignette', 'encode'] },
];

export const stages: Stage[] = zones.flatMap((z) => z.stages);

/** A stage's settings in a few words. */
export function brief(g: Grade, s: Stage): string {
  if (g[s].off) return 'off';
  switch (s) {
    case 'decode':
      return g.decode.curve + (g.decode.range === 'auto' ? '' : `, ${g.decode.range}`);
    case 'exposure':
      return `${signed(g.exposure.stops)} stop`;
    case 'balance': {
      const w = g.balance.white;
      if (w.card) return 'from a card';
      if (w.cct) return `${Math.round(w.cct)} K${w.duv ? `, Duv ${signed(w.duv, 3)}` : ''}`;
      return w.xy ? 'from x, y' : 'no white yet';
    }
    case 'split': {
      const of = (k: 'shadow' | 'middle' | 'high') => (g.split.counter === k ? 'solved' : signed(g.split[k].mired, 0));
      return `${of('shadow')} / ${of('middle')} / ${of('high')} mired`;
    }
    case 'curve':
      return g.curve.master?.length ? `${g.curve.master.length} rungs` : 'straight';
    case 'saturation':
      return `× ${g.saturation.amount.toFixed(2)}`;
    case 'convert':
      return g.convert.by === 'lut' ? short(g.convert.lut) : `ours, slope ${g.convert.slope.toFixed(2)}`;
    case 'look':
      return g.look.lut ? `${short(g.look.lut)} at ${percent(g.look.strength)}` : 'no LUT yet';
    case 'vignette':
      return `${signed(-g.vignette.stops)} stop`;
    case 'encode':
      return `BT.709, ${g.encode.bits} bit`;
  }
}

const short = (file: string): string => (file.split('/').pop() ?? file).replace(/\.(cube|clf)$/i, '').replaceAll('-', ' ');

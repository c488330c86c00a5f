// Numbers of the stop ladder. No DOM here.

import type { LiveRung } from '../api/types.gen.ts';

/** Grey's display signal, 18 % reflectance by the BT.709 OETF (BT.709-6, item 1.2). */
export const GREY_SIGNAL = 1.099 * 0.18 ** 0.45 - 0.099;

/** Screen stops of a display signal: displayed light (BT.1886, exponent 2.4) over displayed grey. */
export const screenStops = (signal: number): number => Math.max(-24, 2.4 * Math.log2(Math.max(signal, 0) / GREY_SIGNAL));

/** Where a scene light comes to on the screen, read off the told rungs. */
export function through(rungs: LiveRung[], scene: number): number {
  return between(rungs, (r) => r.scene, (r) => r.screen, scene);
}

/** The scene light that comes to a place on the screen. */
export function back(rungs: LiveRung[], screen: number): number {
  return between(rungs, (r) => r.screen, (r) => r.scene, screen);
}

function between(rungs: LiveRung[], from: (r: LiveRung) => number, to: (r: LiveRung) => number, x: number): number {
  const first = rungs[0];
  const last = rungs[rungs.length - 1];
  if (!first || !last) return x;
  if (x <= from(first)) return to(first);
  for (let i = 1; i < rungs.length; i++) {
    const a = rungs[i - 1] as LiveRung;
    const b = rungs[i] as LiveRung;
    if (x <= from(b)) {
      const span = from(b) - from(a);
      return span > 0 ? to(a) + ((x - from(a)) / span) * (to(b) - to(a)) : to(b);
    }
  }
  return to(last);
}

export const clamp = (x: number, lo: number, hi: number): number => Math.min(hi, Math.max(lo, x));

/** +1.25, −0.40: with a true minus. */
export function signed(x: number, digits = 2): string {
  const r = Math.abs(x).toFixed(digits);
  return Number(r) === 0 ? r : (x < 0 ? '−' : '+') + r;
}

export const stopsText = (x: number | null | undefined, digits = 2): string =>
  x === null || x === undefined || !Number.isFinite(x) ? 'no light' : `${signed(x, digits)} stop`;

export const percent = (x: number, digits = 0): string => `${(100 * x).toFixed(digits)} %`;

export function clock(seconds: number): string {
  const s = Math.max(0, seconds);
  return `${Math.floor(s / 60)}:${(s % 60).toFixed(2).padStart(5, '0')}`;
}

/** A message as a sentence, which the command's lines and hints are not always. */
export const sentence = (text: string): string => (text && !/[.!?]$/.test(text) ? `${text}.` : text).replace(/^(?!lampwise)[a-z](?=[a-z]* )/, (c) => c.toUpperCase());

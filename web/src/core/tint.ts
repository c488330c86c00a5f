// What a push in mired and Duv does to grey, as a colour to draw strips with.
// No DOM here. For drawing alone: the picture's own push is the server's.

/** Daylight white that pushes begin from, mired: 6504 K, CIE 015, D65. */
const DAYLIGHT = 1e6 / 6504;

/**
 * CIE 1960 u, v of a Planckian radiator by its temperature in K: the rational
 * approximation of M. Krystek, Color Research & Application 10 (1985), 38;
 * coefficients from memory; five values between 94 and 214 mired, on the locus
 * and 0.02 beside it, came out within 0.0004 in x and y of internal/colour.
 */
function planck(t: number): [number, number] {
  return [
    (0.860117757 + 1.54118254e-4 * t + 1.28641212e-7 * t * t) / (1 + 8.42420235e-4 * t + 7.08145163e-7 * t * t),
    (0.317398726 + 4.22806245e-5 * t + 4.20481691e-8 * t * t) / (1 - 2.89741816e-5 * t + 1.61456053e-7 * t * t),
  ];
}

/** CIE 1931 x, y of a mired value and a Duv (+ is greener). */
export function chromaticity(mired: number, duv: number): [number, number] {
  const [u, v] = planck(1e6 / mired);
  const [u2, v2] = planck(1e6 / (mired + 0.5));
  // Across the locus, to the side of larger v.
  const length = Math.hypot(u2 - u, v2 - v);
  const a = u - (duv * (v2 - v)) / length;
  const b = v + (duv * (u2 - u)) / length;
  const d = 2 * a - 8 * b + 4;
  return [(3 * a) / d, (2 * b) / d];
}

/** Linear BT.709 R, G, B of a chromaticity at luminance 1 (BT.709-6, primaries of item 1.3, D65). */
function linear([x, y]: [number, number]): [number, number, number] {
  const X = x / y;
  const Z = (1 - x - y) / y;
  return [3.2404542 * X - 1.5371385 - 0.4985314 * Z, -0.969266 * X + 1.8760108 + 0.041556 * Z, 0.0556434 * X - 0.2040259 + 1.0572252 * Z];
}

/** Grey of a light (1 = white) pushed: a CSS colour. */
export function tint(mired: number, duv: number, light: number): string {
  const to = linear(chromaticity(DAYLIGHT + mired, duv));
  const from = linear(chromaticity(DAYLIGHT, 0));
  const rgb = to.map((c, i) => Math.round(255 * Math.min(1, Math.max(0, (light * c) / (from[i] ?? 1))) ** (1 / 2.4)));
  return `rgb(${rgb.join(' ')})`;
}

// The compiled program as one fragment shader. Each step reads its parameters
// and samples from one texture of texels (internal/job, Packed), so that a
// moved slider changes numbers only; code is made anew when the list of steps
// changes. Nothing here knows what a stage of the path is.

import type { PackedStep } from '../api/client.gen.ts';

/** Texels in a row of the parameters' texture. */
export const ROW = 1024;

export const vertexSource = `#version 300 es
in vec2 at;
out vec2 place;
void main() { place = at; gl_Position = vec4(2.0 * at.x - 1.0, 1.0 - 2.0 * at.y, 0.0, 1.0); }`;

const head = `#version 300 es
precision highp float;
precision highp int;
precision highp sampler2D;
precision highp sampler3D;
precision highp usampler2D;
precision highp sampler2DArray;
in vec2 place;
out vec4 colour;
uniform sampler2D T;
uniform float slope, offset;
vec4 texel(int i) { return texelFetch(T, ivec2(i & ${ROW - 1}, i >> ${Math.log2(ROW)}), 0); }
float arsinh(float x) { float a = abs(x); return sign(x) * log(a + sqrt(a * a + 1.0)); }
float sampled(int at, int n, float t, int ch) {
  t = clamp(t, 0.0, 1.0) * float(n - 1);
  int i = min(int(t), n - 2);
  return mix(texel(at + i)[ch], texel(at + i + 1)[ch], t - float(i));
}
float power(float x, float e) { return x > 0.0 ? pow(x, e) : x; }
`;

const sources = {
  frame: `uniform usampler2D frame;
uniform vec2 proxy; // floor, span
vec3 source(ivec2 p) {
  ivec2 size = textureSize(frame, 0);
  vec3 e = vec3(texelFetch(frame, clamp(p, ivec2(0), size - 1), 0).rgb) / 65535.0 * proxy.y - proxy.x;
  return slope * e + offset;
}
ivec2 sourceSize() { return textureSize(frame, 0); }
`,
  lamps: `uniform sampler2DArray lamps;
uniform vec3 weights[33];
uniform int count;
vec3 source(ivec2 p) {
  ivec2 size = textureSize(lamps, 0).xy;
  p = clamp(p, ivec2(0), size - 1);
  vec3 sum = vec3(0.0);
  for (int i = 0; i < count; i++) sum += weights[i] * texelFetch(lamps, ivec3(p, i), 0).rgb;
  return sum;
}
ivec2 sourceSize() { return textureSize(lamps, 0).xy; }
`,
};

export type Source = keyof typeof sources;

const tail = `
uniform bool limited, vignetted;
uniform vec4 vignetteA, vignetteB; // stops, centre x, centre y, aspect; inner, softness
uniform vec4 part; // of the picture shown in the viewport: x, y, width, height
float fall(vec2 p, vec2 size) {
  vec2 d = p - vignetteA.yz * size;
  float r = length(vec2(d.x / vignetteA.w, d.y)) / length(vec2(size.x / 2.0 / vignetteA.w, size.y / 2.0));
  float t = clamp((r - vignetteB.x) / vignetteB.y, 0.0, 1.0);
  return t * t * t * (t * (6.0 * t - 15.0) + 10.0);
}
void main() {
  vec2 size = vec2(sourceSize());
  vec2 p = (part.xy + place * part.zw) * size;
  vec3 v = path(source(ivec2(p)));
  if (vignetted) v *= exp2(-vignetteA.x / 2.4 * fall(floor(p) + 0.5, size));
  if (limited) v = clamp(v, 0.0, 1.0);
  colour = vec4(v, 1.0);
}`;

/** What the code of a list of steps depends on. */
export const formOf = (steps: PackedStep[], source: Source): string =>
  `${source}|${steps.map((s) => `${s.form}@${s.at}:${s.samples}:${s.size}`).join('|')}`;

/** Cubes of a list of steps, in the order of their samplers. */
export const cubesOf = (steps: PackedStep[]): PackedStep[] => steps.filter((s) => s.cube !== '');

export function fragmentSource(steps: PackedStep[], source: Source): string {
  let cubes = '';
  let body = '';
  let n = 0;
  for (const s of steps) {
    if (s.cube !== '') cubes += `uniform sampler3D cube${n};\n`;
    body += `  { // ${s.form}\n${code(s, n)}  }\n`;
    if (s.cube !== '') n++;
  }
  return `${head}${sources[source]}${cubes}vec3 path(vec3 v) {\n  vec3 kept = v;\n${body}  return v;\n}\n${tail}`;
}

function code(s: PackedStep, cube: number): string {
  const [kind, style] = s.form.split(' ');
  const t = (i: number) => `texel(${s.at + i})`;
  switch (kind) {
    case 'matrix':
      return `    vec4 a = ${t(0)}, b = ${t(1)}, c = ${t(2)};
    v = vec3(dot(a.rgb, v) + a.a, dot(b.rgb, v) + b.a, dot(c.rgb, v) + c.a);\n`;
    case 'curves':
      return `    vec4 lo = ${t(0)}, hi = ${t(1)};
    for (int ch = 0; ch < 3; ch++) {
      float x = ${style === 'asinh' ? 'arsinh(v[ch] / lo.a)' : 'v[ch]'};
      v[ch] = sampled(${s.at + 2}, ${s.samples}, (x - lo[ch]) / (hi[ch] - lo[ch]), ch);
    }\n`;
    case 'shift':
      return `    vec4 w = ${t(0)}; float hi = ${t(1)}.r;
    float x = (dot(w.rgb, v) - w.a) / (hi - w.a);
    v += vec3(sampled(${s.at + 2}, ${s.samples}, x, 0), sampled(${s.at + 2}, ${s.samples}, x, 1), sampled(${s.at + 2}, ${s.samples}, x, 2));\n`;
    case 'compress':
      return `    vec4 limit = ${t(0)}, threshold = ${t(1)}, scale = ${t(2)};
    float top = max(v.r, max(v.g, v.b)), size = abs(top);
    if (size == 0.0) v = vec3(0.0); else for (int ch = 0; ch < 3; ch++) {
      float d = (top - v[ch]) / size;
      if (d >= threshold[ch]) {
        float nd = (d - threshold[ch]) / scale[ch];
        v[ch] = top - (threshold[ch] + scale[ch] * nd / pow(1.0 + pow(nd, limit.a), 1.0 / limit.a)) * size;
      }
    }\n`;
    case 'norm':
      return `    vec4 a = ${t(0)};
    float top = max(v.r, max(v.g, v.b));
    if (!(top > 0.0)) v = vec3(texel(${s.at + 1}).r); else {
      float x = arsinh(top / a.g) / a.a;
      float tone = sampled(${s.at + 1}, ${s.samples}, x, 0), purity = sampled(${s.at + 1}, ${s.samples}, x, 1);
      for (int ch = 0; ch < 3; ch++) {
        float r = v[ch] / top;
        v[ch] = tone * (1.0 + purity * ((r > 0.0 ? pow(r, 1.0 / a.b) : 0.0) - 1.0));
      }
    }\n`;
    case 'range':
      return `    vec4 a = ${t(0)};
    v = clamp(v * a.r + a.g, a.b, a.a);\n`;
    case 'cdl': {
      const clamped = style === 'Fwd';
      return `    vec4 a = ${t(0)}, b = ${t(1)}, c = ${t(2)};
    v = v * a.rgb + b.rgb;${clamped ? ' v = clamp(v, 0.0, 1.0);' : ''}
    for (int ch = 0; ch < 3; ch++) v[ch] = power(v[ch], c[ch]);
    float l = dot(v, vec3(0.2126, 0.7152, 0.0722));
    v = l + a.a * (v - l);${clamped ? ' v = clamp(v, 0.0, 1.0);' : ''}\n`;
    }
    case 'lut3d':
      return `    vec4 lo = ${t(0)}, hi = ${t(1)};
    vec3 x = clamp((v - lo.rgb) / (hi.rgb - lo.rgb), 0.0, 1.0) * float(${s.size - 1});
    ivec3 i = min(ivec3(x), ivec3(${s.size - 2}));
    vec3 f = x - vec3(i);
    vec3 sum = vec3(0.0);
    for (int k = 0; k < 8; k++) {
      ivec3 far = ivec3(k & 1, k >> 1 & 1, k >> 2 & 1);
      ${
        style === 'trilinear'
          ? 'float w = 1.0; for (int a = 0; a < 3; a++) w *= far[a] == 1 ? f[a] : 1.0 - f[a];'
          : 'float least = 1.0, most = 0.0; for (int a = 0; a < 3; a++) { if (far[a] == 1) least = min(least, f[a]); else most = max(most, f[a]); } float w = max(0.0, least - most);'
      }
      if (w > 0.0) sum += w * texelFetch(cube${cube}, i + far, 0).rgb;
    }
    v += lo.a * (sum - v);\n`;
    case 'aside':
      return '    kept = v;\n';
    case 'mix':
      return `    v = kept + ${t(0)}.r * (v - kept);\n`;
  }
  throw new Error(`no code for the step ${s.form}`);
}

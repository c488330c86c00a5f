// A canvas that shows a picture through one or two compiled programs.

import type { LiveProgram, PackedStep } from '../api/client.gen.ts';
import { cubesOf, formOf, fragmentSource, ROW, type Source, vertexSource } from './shader.ts';

/** A program with the numbers of its steps. */
export interface Compiled {
  head: LiveProgram;
  texels: Float32Array;
}

export interface Frame {
  width: number;
  height: number;
  data: Uint16Array;
  number: number; // in its clip
}

export interface Lamps {
  width: number;
  height: number;
  count: number;
  data: Uint16Array; // half floats, R G B 1
}

/** Where E′ lies in a frame's 16 bits (internal/job, ProxyFloor and ProxySpan). */
const PROXY: [number, number] = [0.25, 1.5];

interface Program {
  gl: WebGLProgram;
  at: Map<string, WebGLUniformLocation | null>;
}

interface Slot {
  compiled: Compiled;
  texels: WebGLTexture;
}

export class Screen {
  readonly canvas: HTMLCanvasElement;
  private gl: WebGL2RenderingContext;
  private programs = new Map<string, Program>();
  private cubes = new Map<string, WebGLTexture>();
  private frameTexture: WebGLTexture | null = null;
  private lampTexture: WebGLTexture | null = null;
  private slots: (Slot | null)[] = [null, null];
  private frame: Frame | null = null;
  private lamps: Lamps | null = null;
  private fetched = new Map<string, Float32Array>();
  private asked = 0;
  /** Milliseconds of main-thread work of the last draw, and how many were drawn. */
  spent = 0;
  drawn = 0;
  weights: [number, number, number][] = [];
  /** From 0 to 1: left of it the second program is shown. Null: the first alone. */
  wipe: number | null = null;
  source: Source = 'frame';
  onLost: (lost: boolean) => void = () => {};

  constructor(canvas: HTMLCanvasElement) {
    this.canvas = canvas;
    const gl = canvas.getContext('webgl2', { alpha: false, antialias: false, preserveDrawingBuffer: true });
    if (!gl) throw new Error('This browser has no WebGL 2, which the picture needs.');
    this.gl = gl;
    this.setUp();
    canvas.addEventListener('webglcontextlost', (event) => {
      event.preventDefault();
      this.onLost(true);
    });
    canvas.addEventListener('webglcontextrestored', () => {
      this.programs.clear();
      this.cubes.clear();
      this.frameTexture = this.lampTexture = null;
      const again = this.slots.map((s) => s?.compiled ?? null);
      this.slots = [null, null];
      this.setUp();
      if (this.frame) this.setFrame(this.frame);
      if (this.lamps) this.setLamps(this.lamps);
      again.forEach((c, i) => {
        this.setProgram(i as 0 | 1, c);
      });
      this.onLost(false);
    });
  }

  private setUp() {
    const gl = this.gl;
    gl.getExtension('EXT_color_buffer_float');
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    const corners = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, corners);
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array([0, 0, 1, 0, 0, 1, 1, 1]), gl.STATIC_DRAW);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 2, gl.FLOAT, false, 0, 0);
  }

  private texture(target: number, unit: number): WebGLTexture {
    const gl = this.gl;
    const t = gl.createTexture();
    if (!t) throw new Error('no texture');
    gl.activeTexture(gl.TEXTURE0 + unit);
    gl.bindTexture(target, t);
    gl.texParameteri(target, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
    gl.texParameteri(target, gl.TEXTURE_MAG_FILTER, gl.NEAREST);
    gl.texParameteri(target, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(target, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
    return t;
  }

  setFrame(f: Frame) {
    const gl = this.gl;
    this.frame = f;
    this.source = 'frame';
    if (this.frameTexture) gl.deleteTexture(this.frameTexture);
    this.frameTexture = this.texture(gl.TEXTURE_2D, 0);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGB16UI, f.width, f.height, 0, gl.RGB_INTEGER, gl.UNSIGNED_SHORT, f.data);
    this.size(f.width, f.height);
    this.draw();
  }

  setLamps(l: Lamps) {
    const gl = this.gl;
    this.lamps = l;
    this.source = 'lamps';
    if (this.lampTexture) gl.deleteTexture(this.lampTexture);
    this.lampTexture = this.texture(gl.TEXTURE_2D_ARRAY, 0);
    gl.texImage3D(gl.TEXTURE_2D_ARRAY, 0, gl.RGBA16F, l.width, l.height, l.count, 0, gl.RGBA, gl.HALF_FLOAT, l.data);
    this.size(l.width, l.height);
    this.draw();
  }

  private size(w: number, h: number) {
    if (this.canvas.width !== w || this.canvas.height !== h) {
      this.canvas.width = w;
      this.canvas.height = h;
    }
  }

  /** Takes a program; its cubes are fetched once. */
  async load(slot: 0 | 1, c: Compiled | null): Promise<void> {
    for (const s of c ? cubesOf(c.head.steps) : []) {
      if (this.fetched.has(s.cube)) continue;
      const answer = await fetch(`/api/cube?id=${encodeURIComponent(s.cube)}`);
      if (!answer.ok) throw new Error('a LUT could not be loaded');
      this.fetched.set(s.cube, new Float32Array(await answer.arrayBuffer()));
    }
    this.setProgram(slot, c);
  }

  private setProgram(slot: 0 | 1, c: Compiled | null) {
    const gl = this.gl;
    const old = this.slots[slot];
    if (old) gl.deleteTexture(old.texels);
    this.slots[slot] = null;
    if (c) {
      const texels = this.texture(gl.TEXTURE_2D, 1);
      const rows = Math.max(1, Math.ceil(c.texels.length / 4 / ROW));
      const padded = new Float32Array(rows * ROW * 4);
      padded.set(c.texels);
      gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA32F, ROW, rows, 0, gl.RGBA, gl.FLOAT, padded);
      for (const s of cubesOf(c.head.steps)) this.cube(s);
      this.slots[slot] = { compiled: c, texels };
    }
    this.draw();
  }

  private cube(s: PackedStep) {
    const gl = this.gl;
    const data = this.fetched.get(s.cube);
    if (this.cubes.has(s.cube) || !data) return;
    const t = this.texture(gl.TEXTURE_3D, 2);
    gl.texParameteri(gl.TEXTURE_3D, gl.TEXTURE_WRAP_R, gl.CLAMP_TO_EDGE);
    gl.texImage3D(gl.TEXTURE_3D, 0, gl.RGB32F, s.size, s.size, s.size, 0, gl.RGB, gl.FLOAT, data);
    this.cubes.set(s.cube, t);
  }

  private programFor(c: Compiled): Program {
    const key = formOf(c.head.steps, this.source);
    const old = this.programs.get(key);
    if (old) return old;
    const gl = this.gl;
    const p = gl.createProgram();
    for (const [kind, text] of [
      [gl.VERTEX_SHADER, vertexSource],
      [gl.FRAGMENT_SHADER, fragmentSource(c.head.steps, this.source)],
    ] as const) {
      const shader = gl.createShader(kind);
      if (!shader) throw new Error('no shader');
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(p, shader);
      gl.deleteShader(shader);
    }
    gl.bindAttribLocation(p, 0, 'at');
    gl.linkProgram(p);
    if (!gl.getProgramParameter(p, gl.LINK_STATUS) && !gl.isContextLost()) {
      throw new Error(`the picture's program: ${gl.getProgramInfoLog(p)}`);
    }
    const made = { gl: p, at: new Map() };
    if (this.programs.size > 24) {
      for (const q of this.programs.values()) gl.deleteProgram(q.gl);
      this.programs.clear();
    }
    this.programs.set(key, made);
    return made;
  }

  /** Draws at the next frame; more calls until then are one. */
  draw() {
    if (this.asked) return;
    this.asked = requestAnimationFrame(() => {
      this.asked = 0;
      this.drawNow();
    });
  }

  drawNow() {
    const gl = this.gl;
    const ready = this.source === 'frame' ? this.frameTexture : this.lampTexture;
    const [a, b] = this.slots;
    if (!a || !ready || gl.isContextLost()) return;
    const began = performance.now();
    const w = this.canvas.width;
    const h = this.canvas.height;
    const cut = this.wipe === null || !b ? 0 : Math.round(this.wipe * w);
    if (cut < w) this.pass(a, ready, cut, w - cut, w, h);
    if (cut > 0 && b) this.pass(b, ready, 0, cut, w, h);
    this.spent = performance.now() - began;
    this.drawn++;
  }

  private pass(slot: Slot, source: WebGLTexture, x: number, width: number, w: number, h: number) {
    const gl = this.gl;
    const head = slot.compiled.head;
    const p = this.programFor(slot.compiled);
    gl.useProgram(p.gl);
    const at = (name: string) => {
      let l = p.at.get(name);
      if (l === undefined) {
        l = gl.getUniformLocation(p.gl, name);
        p.at.set(name, l);
      }
      return l;
    };
    gl.viewport(x, 0, width, h);
    gl.activeTexture(gl.TEXTURE1);
    gl.bindTexture(gl.TEXTURE_2D, slot.texels);
    gl.uniform1i(at('T'), 1);
    gl.activeTexture(gl.TEXTURE0);
    if (this.source === 'frame') {
      gl.bindTexture(gl.TEXTURE_2D, source);
      gl.uniform1i(at('frame'), 0);
      gl.uniform2f(at('proxy'), ...PROXY);
    } else {
      gl.bindTexture(gl.TEXTURE_2D_ARRAY, source);
      gl.uniform1i(at('lamps'), 0);
      gl.uniform1i(at('count'), this.weights.length);
      if (this.weights.length) gl.uniform3fv(at('weights'), this.weights.flat());
    }
    cubesOf(head.steps).forEach((s, i) => {
      gl.activeTexture(gl.TEXTURE2 + i);
      gl.bindTexture(gl.TEXTURE_3D, this.cubes.get(s.cube) ?? null);
      gl.uniform1i(at(`cube${i}`), 2 + i);
    });
    gl.uniform1f(at('slope'), head.slope);
    gl.uniform1f(at('offset'), head.offset);
    gl.uniform1i(at('limited'), head.limit ? 1 : 0);
    const v = head.vignette;
    gl.uniform1i(at('vignetted'), v ? 1 : 0);
    if (v) {
      gl.uniform4f(at('vignetteA'), v.stops, v.centreX, v.centreY, v.aspect);
      gl.uniform4f(at('vignetteB'), v.inner, v.softness, 0, 0);
    }
    gl.uniform4f(at('part'), x / w, 0, width / w, 1);
    gl.drawArrays(gl.TRIANGLE_STRIP, 0, 4);
  }

  /** Waits until what was drawn is there: one pixel is read back. For measuring. */
  finish() {
    this.gl.readPixels(0, 0, 1, 1, this.gl.RGBA, this.gl.UNSIGNED_BYTE, new Uint8Array(4));
  }

  /** The picture's 8-bit numbers as they are shown, row by row from the top. */
  pixels(): Uint8Array {
    this.drawNow();
    const gl = this.gl;
    const { width: w, height: h } = this.canvas;
    const out = new Uint8Array(4 * w * h);
    gl.readPixels(0, 0, w, h, gl.RGBA, gl.UNSIGNED_BYTE, out);
    const turned = new Uint8Array(out.length);
    for (let y = 0; y < h; y++) turned.set(out.subarray(4 * w * (h - 1 - y), 4 * w * (h - y)), 4 * w * y);
    return turned;
  }
}

// Small parts that the places share.

import type { ComponentChildren } from 'preact';
import { useId, useState } from 'preact/hooks';
import { percent, signed } from '../core/stops.ts';

interface DialProps {
  name: string;
  unit: string;
  value: number;
  min: number;
  max: number;
  step: number;
  digits?: number;
  about?: string; // formula or source
  ticks?: number; // a tick each so many units
  set: (v: number) => void;
}

/** A ruler with a number: a native range under drawn ticks. */
export function Dial(p: DialProps) {
  const id = useId();
  const digits = p.digits ?? 2;
  const ticks: number[] = [];
  if (p.ticks) for (let t = Math.ceil(p.min / p.ticks) * p.ticks; t <= p.max + 1e-9; t += p.ticks) ticks.push(Number(t.toFixed(6)));
  const part = (v: number) => `calc(${((v - p.min) / (p.max - p.min)).toFixed(4)} * (100% - 14px) + 7px)`;
  return (
    <div class="dial" title={p.about}>
      <label for={id}>{p.name}</label>
      <output for={id}>
        {p.min < 0 ? signed(p.value, digits) : p.value.toFixed(digits)} <small>{p.unit}</small>
      </output>
      <div class="ruler">
        <input
          id={id}
          type="range"
          min={p.min}
          max={p.max}
          step={p.step}
          value={p.value}
          aria-valuetext={`${p.value.toFixed(digits)} ${p.unit}`}
          onInput={(e) => p.set(Number(e.currentTarget.value))}
        />
        {ticks.map((t) => (
          <i key={t} class={t === 0 ? 'zero' : ''} style={{ left: part(t) }} aria-hidden="true" />
        ))}
      </div>
    </div>
  );
}

/** A number to be typed; it is taken when it is done, not while it is typed. */
export function NumberField(p: { name: string; value: number; step: number; set: (v: number) => void }) {
  const [typed, type] = useState<string | null>(null);
  return (
    <input
      type="number"
      aria-label={p.name}
      step={p.step}
      value={typed ?? p.value}
      onInput={(e) => type(e.currentTarget.value)}
      onChange={(e) => {
        const v = e.currentTarget.valueAsNumber;
        if (Number.isFinite(v)) p.set(v);
        type(null);
      }}
      onBlur={() => type(null)}
    />
  );
}

/** What a lamp stands at: per cent as it is set, stops of its light. */
export function LevelText({ shown, level }: { shown: number; level: number }) {
  return <output>{percent(shown)} <small>{level > 0 ? `${signed(Math.log2(level))} stop` : 'off'}</small></output>;
}

/** A lamp's level on a native ruler; of says what the per cent are of. */
export function LevelRuler(p: { name: string; level: number; shown: number; of: string; set: (v: number) => void }) {
  return (
    <input
      type="range"
      min={0}
      max={1}
      step={0.005}
      value={p.level}
      aria-label={`Level of ${p.name}`}
      aria-valuetext={p.level > 0 ? `${percent(p.shown)} of ${p.of}, ${signed(Math.log2(p.level))} stop` : 'off'}
      onInput={(e) => p.set(Number(e.currentTarget.value))}
    />
  );
}

export function Choice(p: { name: string; value: string; options: [string, string][]; set: (v: string) => void }) {
  const id = useId();
  return (
    <div class="choice">
      <label for={id}>{p.name}</label>
      <select id={id} value={p.value} onChange={(e) => p.set(e.currentTarget.value)}>
        {p.options.map(([v, text]) => (
          <option key={v} value={v}>{text}</option>
        ))}
      </select>
    </div>
  );
}

export function Empty(p: { title: string; children: ComponentChildren }) {
  return (
    <section class="empty">
      <h2>{p.title}</h2>
      {p.children}
    </section>
  );
}

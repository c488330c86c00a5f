// The caller: what to switch, said and beeped on a timer.

import { useEffect, useRef, useState } from 'preact/hooks';
import * as api from '../api/client.gen.ts';
import { ask } from '../api/post.ts';
import * as s from './state.ts';

export function Caller() {
  const [order, say] = useState('');
  const [hold, wait] = useState(4);
  const [plan, take] = useState<api.Called | null>(null);
  const [at, move] = useState(0);
  const sound = useRef<HTMLAudioElement | null>(null);
  useEffect(() => () => sound.current?.pause(), []);
  const begin = async () => {
    await s.attempt(async () => {
      const p = await api.call({ set: s.setName.value, order, hold });
      const wav = await (await ask(`/api/call.wav?${new URLSearchParams({ order: p.order, hold: String(hold) })}`)).blob();
      const audio = new Audio(URL.createObjectURL(wav));
      sound.current = audio;
      let said = -1;
      const tick = () => {
        move(audio.currentTime);
        const next = p.steps.findIndex((x) => x.ready > audio.currentTime) - 1;
        const i = next < -1 ? p.steps.length - 1 : next;
        if (i > said && i >= 0 && 'speechSynthesis' in globalThis) {
          said = i;
          speechSynthesis.speak(new SpeechSynthesisUtterance(p.steps[i]?.say ?? ''));
        }
        if (!audio.paused && !audio.ended) requestAnimationFrame(tick);
      };
      audio.onended = () => take(null);
      take(p);
      await audio.play();
      tick();
    });
  };
  if (plan) {
    const i = Math.max(0, plan.steps.findLastIndex((x) => x.ready <= at));
    const now = plan.steps[i];
    const left = (now?.now ?? 0) - at;
    return (
      <section class="caller" aria-label="Caller">
        <p class="big" aria-live="assertive">{now?.say} {left > 0.05 ? <small>in {Math.ceil(left)} s</small> : <small>now</small>}</p>
        <p>then: {plan.steps[i + 1]?.say ?? 'the end'}</p>
        <progress max={plan.length} value={at} aria-label="How far the order is called" />
        <button type="button" onClick={() => { sound.current?.pause(); take(null); }}>stop</button>
      </section>
    );
  }
  return (
    <section class="caller" aria-label="Caller">
      <label>
        order <input type="text" placeholder={s.set.value?.order ?? 'all, -key, all, -fill, all, dark'} value={order} onInput={(e) => say(e.currentTarget.value)} />
      </label>{' '}
      <label>
        from beep to beep <input type="number" min={2} max={30} step={0.5} value={hold} onInput={(e) => wait(Number(e.currentTarget.value))} /> s
      </label>{' '}
      <button type="button" class="main" onClick={() => void begin()}>call it</button>
      <p class="note">The beeps on the camera's sound track name the holds, so that learning needs no typing. Let the camera hear this device. Who sits there meanwhile may be a stand-in (best), a person who keeps still, or nobody.</p>
      <p class="note">Have a licensed electrician do what is not switched at a plug; let hot lamps cool before they are touched.</p>
    </section>
  );
}

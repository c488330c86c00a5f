// The page in the hand on the set: set check, set card and caller, for a phone
// that was paired with the computer; and how it is paired.

import { effect, signal } from '@preact/signals';
import { useState } from 'preact/hooks';
import * as api from '../api/client.gen.ts';
import { post } from '../api/post.ts';
import { Caller } from './caller.tsx';
import { listen } from './events.ts';
import * as s from './state.ts';
import { Card, Check } from './under.tsx';

type View = 'check' | 'card' | 'caller';
const words: Record<View, string> = { check: 'set check', card: 'set card', caller: 'caller' };

export const paired = signal(false);

/** Says whether this is a phone's address; a phone's page is then opened. */
export async function begin(): Promise<boolean> {
  const p = await s.attempt(() => api.startPhone({}));
  if (!p?.phone) return false;
  s.inHand.value = true;
  take(p);
  return true;
}

function take(p: api.PhoneStarted) {
  paired.value = p.paired;
  if (!p.paired) return;
  s.started.value = { version: '', folders: [], files: p.files, sets: p.sets, curves: [], kinds: {} };
  const set = p.sets.find((x) => x.name === s.recall('set')) ?? p.sets[0];
  if (set) void openSet(set.name);
  listen();
}

async function openSet(name: string) {
  await s.attempt(async () => {
    s.set.value = await api.set({ set: name });
    s.setName.value = name;
  });
  s.remember('set', name);
}

export function Phone() {
  const [view, show] = useState<View>('check');
  const set = s.set.value;
  return (
    <>
      <header class="phone">
        <b class="name">lampwise</b>
        {paired.value && (
          <nav aria-label="On the set">
            {(Object.keys(words) as View[]).map((v) => <button key={v} type="button" aria-pressed={view === v} onClick={() => show(v)}>{words[v]}</button>)}
          </nav>
        )}
      </header>
      {s.trouble.value && <p class="trouble" role="alert"><b>{s.trouble.value.message}</b> {s.trouble.value.hint} <button type="button" onClick={() => { s.trouble.value = null; }}>close</button></p>}
      {s.server.value !== 'here' && paired.value && <p class="trouble" role="alert"><b>lampwise does not answer.</b> Is it still running on the computer, and this phone on the same network?</p>}
      <main class="held">
        {!paired.value && <Pair />}
        {paired.value && !set && <p>No set is known on the computer yet: learn one there first.</p>}
        {paired.value && set && (
          <>
            {(s.started.value?.sets ?? []).length > 1 && (
              <p><label>set <select value={s.setName.value} onChange={(e) => void openSet(e.currentTarget.value)}>{s.started.value?.sets.map((x) => <option key={x.name} value={x.name}>{x.name}</option>)}</select></label></p>
            )}
            {view === 'check' && <Check />}
            {view === 'card' && <Card set={set} />}
            {view === 'caller' && <Caller />}
          </>
        )}
      </main>
    </>
  );
}

function Pair() {
  const [code, type] = useState('');
  const send = () => void s.attempt(async () => {
    await post('phone/pair', { code });
    take(await api.startPhone({}));
  });
  return (
    <section class="pairing" aria-label="Pair this phone">
      <h1>Pair this phone</h1>
      <p>Press <b>pair a phone</b> on the Lamps page of the computer and type its code.</p>
      <form onSubmit={(e) => { e.preventDefault(); send(); }}>
        <label>code <input type="text" inputMode="numeric" autocomplete="one-time-code" maxLength={6} pattern="[0-9]{6}" value={code} onInput={(e) => type(e.currentTarget.value)} /></label>
        <button type="submit" class="main" disabled={!/^\d{6}$/.test(code)}>pair</button>
      </form>
      <p class="note">This connection isn’t encrypted: use it on a network you trust. It reaches the set check, the set card and the caller, nothing else.</p>
    </section>
  );
}

export const phones = signal<api.PhonesState | null>(null);

/** On the computer: the code, and which phones are paired. */
export function Phones() {
  const p = phones.value;
  const ask = (what: () => Promise<api.PhonesState>) => void s.attempt(async () => { phones.value = await what(); });
  if (!p) return <p>Reading …</p>;
  return (
    <section class="phones" aria-label="Phones">
      {!p.lan ? (
        <p>The set check, the set card and the caller can be held in the hand on the set: start <code>lampwise serve --lan</code>, and a phone on the same network is paired here by a code.</p>
      ) : (
        <>
          <p>
            On the phone open {p.addresses.map((a, i) => <span key={a}>{i > 0 && ' or '}<b class="address">{a}</b></span>)}{' '}
            <button type="button" class="main" onClick={() => ask(() => api.codePhones({}))}>pair a phone</button>
          </p>
          {p.code && <p class="code" role="status">{p.code.slice(0, 3)} {p.code.slice(3)} <small>good for one phone until {new Date(p.until).toLocaleTimeString()}</small></p>}
          {p.phones.length > 0 ? (
            <ul>{p.phones.map((d) => <li key={d.id}>{d.name}, since {new Date(d.since).toLocaleTimeString()} <small>last seen {new Date(d.seen).toLocaleTimeString()}</small> <button type="button" onClick={() => ask(() => api.forgetPhones({ id: d.id }))}>forget it</button></li>)}</ul>
          ) : <p class="note">No phone is paired.</p>}
          <p class="note">Not encrypted: use it on a network you trust. Phones reach these three things and nothing else.</p>
        </>
      )}
    </section>
  );
}

effect(() => {
  if (s.place.value !== 'lamps') return;
  const read = () => void api.statePhones({}).then((p) => { phones.value = p; }).catch(() => undefined);
  read();
  const again = setInterval(() => { if (phones.peek()?.code) read(); }, 2000);
  return () => clearInterval(again);
});

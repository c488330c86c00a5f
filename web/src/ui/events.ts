// Jobs, told by the server as they go on; and whether it is there at all.

import type * as api from '../api/client.gen.ts';
import { ask, Trouble } from '../api/post.ts';
import { again, inHand, jobs, open, relist, server } from './state.ts';

/** Which start of lampwise told of the jobs that are known. */
let begun = '';

export function listen() {
  const source = new EventSource('/api/events');
  source.addEventListener('start', (e) => {
    const now = JSON.parse((e as MessageEvent<string>).data) as string;
    if (begun && now !== begun) jobs.value = ended(jobs.value);
    begun = now;
  });
  source.addEventListener('job', (e) => {
    const j = JSON.parse((e as MessageEvent<string>).data) as api.Job;
    const before = jobs.value[j.id]?.state;
    jobs.value = { ...jobs.value, [j.id]: j };
    if (before === 'running' && j.state === 'done' && !inHand.value) void (j.kind === 'demo' ? open() : relist());
  });
  source.onopen = () => {
    const away = server.value !== 'here';
    server.value = 'here';
    if (!away) return;
    again.value++;
    if (!inHand.value) void open();
  };
  source.onerror = () => {
    if (server.value === 'here') server.value = 'gone';
    if (source.readyState !== EventSource.CLOSED) return; // the browser tries again by itself
    setTimeout(listen, 1500);
    void why();
  };
}

/** A server that refuses doesn't know this page yet; one that isn't there doesn't say so. */
async function why() {
  try {
    await ask('/api/phones/state', { method: 'POST', body: '{}' });
  } catch (error) {
    server.value = error instanceof Trouble && error.code === 'token' ? 'anew' : 'gone';
  }
}

/** What an earlier start of lampwise told of; what ran then ended with it. Numbered from below 0, since the new start counts from 1. */
function ended(all: Record<string, api.Job>): Record<string, api.Job> {
  const old = Object.values(all).sort((a, b) => Number(a.id) - Number(b.id));
  const error = { code: 'ended', message: 'lampwise ended while this was running.', hint: 'Start it again. A file that was not finished does not bear its name.' };
  return Object.fromEntries(old.map((j, i) => {
    const id = String(i - old.length);
    return [id, j.state === 'running' ? { ...j, id, state: 'failed', error } : { ...j, id }];
  }));
}

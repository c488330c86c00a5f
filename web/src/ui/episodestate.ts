// A set's record as the page knows it.

import { batch, effect, signal } from '@preact/signals';
import * as api from '../api/client.gen.ts';
import * as s from './state.ts';

export const book = signal<api.EpisodeBook | null>(null);
export const history = signal<api.EpisodeHistory | null>(null);
export const episode = signal('');
export const clip = signal(0);
export const compared = signal<api.ComparedEpisodes | null>(null);

export const now = (): api.ShownEpisode | null => book.value?.episodes.find((e) => e.name === episode.value) ?? null;
export const clipNow = (): api.ShownClip | null => now()?.clips.find((c) => c.number === clip.value) ?? null;

export async function read() {
  const set = s.setName.value;
  if (!set) return;
  await s.attempt(async () => {
    const b = await api.allEpisodes({ set });
    const h = b.episodes.length ? await api.historyEpisodes({ set }) : null;
    batch(() => {
      book.value = b;
      history.value = h;
      if (episode.value === '' || !b.episodes.some((e) => e.name === episode.value)) choose(b.episodes.at(-1)?.name ?? '');
    });
  });
}

export function choose(name: string) {
  batch(() => {
    episode.value = name;
    const clips = book.value?.episodes.find((e) => e.name === name)?.clips ?? [];
    clip.value = (clips.find((c) => c.found) ?? clips[0])?.number ?? 0;
  });
}

effect(() => {
  if (s.place.value !== 'episodes' || !s.setName.value) return;
  void read();
});

// What the work found is read anew when a step of it is told, a few times a second at most.
let seen = '';
let wait = 0;
effect(() => {
  const told = Object.values(s.jobs.value).filter((j) => j.kind === 'episode').map((j) => `${j.id} ${j.state} ${j.step?.what ?? ''}`).join();
  if (told === seen || s.place.value !== 'episodes') return;
  seen = told;
  clearTimeout(wait);
  wait = setTimeout(() => void read(), 300);
});

import type { ErrorBody } from './types.gen.ts';

/** What went wrong, in the words of lampwise: one line, and what to do. */
export class Trouble extends Error {
  code: string;
  hint: string;
  constructor(body: ErrorBody) {
    super(body.message);
    this.code = body.code;
    this.hint = body.hint;
  }
}

export const lost = {
  code: 'lost',
  message: 'lampwise does not answer.',
  hint: 'Is it still running? Start lampwise serve again; what you changed is kept in this browser.',
};

/** Asks the server and turns every failure into a Trouble. */
export async function ask(path: string, init?: RequestInit): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(path, init);
  } catch (error) {
    if (init?.signal?.aborted) throw error;
    throw new Trouble(lost);
  }
  if (answer.ok) return answer;
  const body = (await answer.json().catch(() => ({ error: lost }))) as { error: ErrorBody };
  throw new Trouble(body.error ?? lost);
}

export function postRaw(name: string, body: unknown, signal?: AbortSignal): Promise<Response> {
  return ask(`/api/${name}`, {
    method: 'POST',
    headers: { 'Content-Type': 'application/json' },
    body: JSON.stringify(body),
    signal: signal ?? null,
  });
}

export async function post<T>(name: string, body: unknown): Promise<T> {
  return (await (await postRaw(name, body)).json()) as T;
}

// What the page keeps in this browser: apart for the folders that are open,
// shared by all windows on them.

let about = '';

/** Says which folders are open; what is kept is theirs. */
export const keepFor = (folders: string[]) => {
  about = `${folders.join(' ')} `;
};

const named = (key: string) => `lampwise ${about}${key}`;

export const remember = (key: string, value: string) => {
  try {
    if (value) localStorage.setItem(named(key), value);
    else localStorage.removeItem(named(key));
  } catch {
    // Without storage the page forgets on reload; nothing else.
  }
};

export const recall = (key: string): string => {
  try {
    return localStorage.getItem(named(key)) ?? '';
  } catch {
    return '';
  }
};

/** recall for what is JSON; null where there is none that can be read. */
export function recalled<T>(key: string): T | null {
  try {
    return JSON.parse(recall(key)) as T;
  } catch {
    return null;
  }
}

/** Tells what another window of this browser keeps anew; empty: it keeps it no more. */
export function fromOthers(how: (key: string, value: string) => void) {
  addEventListener('storage', (e) => {
    if (e.key?.startsWith(named(''))) how(e.key.slice(named('').length), e.newValue ?? '');
  });
}

/** For one window alone, until it is closed: steps of undo, over a reload. */
export const mine = {
  put(key: string, value: string) {
    try {
      sessionStorage.setItem(named(key), value);
    } catch {
      // Too large or not allowed: undo begins anew.
    }
  },
  take(key: string): string {
    try {
      const value = sessionStorage.getItem(named(key)) ?? '';
      sessionStorage.removeItem(named(key));
      return value;
    } catch {
      return '';
    }
  },
};

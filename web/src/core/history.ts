// Undo and redo. No DOM here.

/** Steps of one thing's state. Steps of the same kind are one within a moment, or, held, however long they take. */
export class History<T> {
  private past: T[] = [];
  private future: T[] = [];
  private kind = '';
  private at = 0;
  now: T;
  constructor(now: T) {
    this.now = now;
  }

  set(next: T, kind: string, time: number, held = false) {
    if (kind !== this.kind || (!held && time - this.at > 700)) this.past.push(this.now);
    if (this.past.length > 500) this.past.shift();
    this.kind = kind;
    this.at = time;
    this.future = [];
    this.now = next;
  }

  undo() {
    const p = this.past.pop();
    if (p === undefined) return;
    this.future.push(this.now);
    this.now = p;
    this.kind = '';
  }

  redo() {
    const f = this.future.pop();
    if (f === undefined) return;
    this.past.push(this.now);
    this.now = f;
    this.kind = '';
  }

  /** All steps, newest last, as far back as is asked for. */
  dump(most: number): { past: T[]; future: T[]; now: T } {
    return { past: this.past.slice(-most), future: this.future.slice(-most), now: this.now };
  }

  /** A history as it was dumped. */
  static of<T>(d: { past: T[]; future: T[]; now: T }): History<T> {
    const h = new History<T>(d.now);
    h.past = d.past;
    h.future = d.future;
    return h;
  }

  get canUndo() {
    return this.past.length > 0;
  }
  get canRedo() {
    return this.future.length > 0;
  }
}

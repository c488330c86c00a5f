// Files dropped onto the page. Without this the browser would leave the page
// and show the file.

import { signal } from '@preact/signals';
import type { ListedFile } from '../api/client.gen.ts';
import * as room from './roomstate.ts';
import * as s from './state.ts';

/** A file is held over the page. */
export const over = signal(false);

export function takeDrops() {
  const files = (e: DragEvent) => e.dataTransfer?.types.includes('Files') ?? false;
  addEventListener('dragover', (e) => {
    if (!files(e)) return;
    e.preventDefault();
    over.value = true;
  });
  addEventListener('dragleave', (e) => {
    if (!e.relatedTarget) over.value = false; // it left the window
  });
  addEventListener('drop', (e) => {
    if (!files(e)) return;
    e.preventDefault();
    over.value = false;
    // What was dropped is known during the event alone.
    const items = [...(e.dataTransfer?.items ?? [])].filter((i) => i.kind === 'file');
    void take(items.map((i) => ({ file: i.getAsFile(), folder: i.webkitGetAsEntry()?.isDirectory ?? false })));
  });
}

interface Dropped {
  file: File | null;
  folder: boolean;
}

async function take(dropped: Dropped[]) {
  s.trouble.value = null;
  await s.relist();
  const first = dropped[0];
  if (!first || !s.started.value) return;
  const said = first.folder ? folder(first.file?.name ?? '') : first.file ? await one(first.file) : null;
  const rest = dropped.length - 1;
  const more = rest > 0 ? ` Of the ${dropped.length} that were dropped only the first was looked at.` : '';
  if (said) s.trouble.value = { message: said.message, hint: said.hint + more };
}

const here = () => s.started.value?.folders.join(', ') ?? '';

const folder = (name: string) => ({ message: `“${name}” is a folder.`, hint: `Open a folder with: lampwise serve ${name}. From ${here()} any file may be dropped here.` });

/** Opens a file that lies in an opened folder; else says what it is and what to do. */
async function one(file: File): Promise<s.Said | null> {
  const ending = /\.[^./]+$/.exec(file.name.toLowerCase())?.[0] ?? '';
  const kinds = s.started.value?.kinds ?? {};
  const kind = kinds[ending];
  if (!kind) {
    const of = (k: string) => Object.keys(kinds).filter((e) => kinds[e] === k).sort().join(' ');
    return { message: `“${file.name}” is nothing that can be opened here.`, hint: `A clip is ${of('clip')}, a grade or a plan ${of('grade')}, a LUT ${of('lut')}.` };
  }
  const named = (s.started.value?.files ?? []).filter((f) => f.name.split('/').pop() === file.name);
  const found = named.find((f) => f.bytes === file.size);
  if (found) return open(found);
  if (named.length) return { message: `“${file.name}” is another file than the one of that name in ${here()}.`, hint: 'Give it another name and copy it there; then it can be chosen here.' };
  const what = { clip: 'clip', still: 'picture', lut: 'LUT', grade: 'file' }[kind] ?? 'file';
  return { message: `The ${what} “${file.name}” lies in no folder that is open here.`, hint: `Copy it into ${here()}: then it can be chosen here, or dropped once more. A browser does not tell where a file was dropped from.` };
}

async function open(f: ListedFile): Promise<s.Said | null> {
  switch (f.kind) {
    case 'clip':
      location.hash = 'picture';
      await s.openClip(f.id);
      return null;
    case 'grade':
      location.hash = 'picture';
      await s.openGrade(f.id);
      return null;
    case 'plan':
      location.hash = 'room';
      await room.open(f.id);
      return null;
    case 'lut': {
      const at = s.gradeFile.value.slice(0, s.gradeFile.value.lastIndexOf('/') + 1);
      if (!s.grade.value || !at || !f.id.startsWith(at)) return { message: `The LUT “${f.name}” can’t be put into a grade that isn’t beside it.`, hint: 'Open a grade in the same folder first, and drop it once more.' };
      location.hash = 'picture';
      s.stage.value = 'look';
      s.below.value = 'setting';
      s.edit('look', (g) => {
        g.look.off = false;
        g.look.lut = f.id.slice(at.length);
      });
      return null;
    }
    default:
      return { message: `“${f.name}” is a still picture.`, hint: 'A still of the set can be held against it: Lamps, set check. On the Picture page a clip is wanted.' };
  }
}

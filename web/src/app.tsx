import './app.css';
import './places.css';
import { render } from 'preact';
import { sentence } from './core/stops.ts';
import { over } from './ui/drop.ts';
import { Episodes } from './ui/episodes.tsx';
import { Lamps } from './ui/lamps.tsx';
import { begin, Phone } from './ui/phone.tsx';
import { Picture } from './ui/picture.tsx';
import { Room } from './ui/room.tsx';
import * as room from './ui/roomstate.ts';
import * as s from './ui/state.ts';
import { watch } from './ui/watch.ts';

const places: [s.Place, string, string][] = [
  ['room', 'before', 'Room'],
  ['lamps', 'on the set', 'Lamps'],
  ['picture', 'after', 'Picture'],
  ['episodes', 'over time', 'Episodes'],
];

function App() {
  const files = s.started.value?.files ?? [];
  const clips = files.filter((f) => f.kind === 'clip');
  const grades = files.filter((f) => f.kind === 'grade');
  const here = s.place.value;
  return (
    <>
      <header>
        <b class="name">lampwise</b>
        <nav aria-label="Places">
          {places.map(([id, when, name]) => (
            <a key={id} href={`#${id}`} aria-current={here === id ? 'page' : undefined}>
              <span>{when}</span> <b>{name}</b>
            </a>
          ))}
        </nav>
        {here === 'picture' && clips.length > 0 && (
          <label class="file">
            clip <select value={s.clip.value?.id ?? ''} onChange={(e) => chosen(e.currentTarget, s.openClip, () => s.clip.value?.id)}>
              {!s.clip.value && <option value="">choose</option>}
              {clips.map((f) => <option key={f.id} value={f.id}>{f.name}</option>)}
            </select>
          </label>
        )}
        {(here === 'picture' || here === 'lamps' || here === 'episodes') && grades.length > 0 && (
          <label class="file">
            grade <select value={s.gradeFile.value} onChange={(e) => { if (e.currentTarget.value === 'new') s.closeGrade(); else chosen(e.currentTarget, s.openGrade, () => s.gradeFile.value); }}>
              {!s.gradeFile.value && <option value="">choose</option>}
              {grades.map((f) => <option key={f.id} value={f.id}>{f.name}</option>)}
              {here === 'picture' && <option value="new">a new one …</option>}
            </select>
          </label>
        )}
        <span class="doing">
          <button type="button" disabled={!doing().canUndo.value} onClick={() => doing().undo()} aria-keyshortcuts="Control+Z">undo</button>
          <button type="button" disabled={!doing().canRedo.value} onClick={() => doing().redo()} aria-keyshortcuts="Control+Shift+Z">redo</button>
          <small role="status">{(here === 'room' ? room.text.value : s.grade.value) ? (doing().unsaved.value ? 'not saved' : 'saved') : ''}</small>
        </span>
      </header>
      <Away />
      <Troubled />
      {over.value && <p class="dropping" role="status">Let go: a clip, grade, plan or LUT of this folder is opened</p>}
      {here === 'picture' && <Picture />}
      {here === 'lamps' && <Lamps />}
      {here === 'room' && <Room />}
      {here === 'episodes' && <Episodes />}
    </>
  );
}

/** The server isn't there: what to do about it. The page goes on by itself. */
function Away() {
  if (s.server.value === 'here') return null;
  const folders = (s.started.value?.folders ?? []).map((f) => (/[\s'"]/.test(f) ? `"${f}"` : f)).join(' ');
  return (
    <p class="trouble" role="alert">
      {s.server.value === 'gone' ? (
        <><b>lampwise does not answer.</b> Was it ended? Start it again with <code>lampwise serve {folders}</code>: this page then goes on by itself. What you changed and did not save is kept in this browser.</>
      ) : (
        <><b>lampwise was started again.</b> Open the address that it printed, in this browser: this page then goes on by itself. What you changed and did not save is kept in this browser.</>
      )}
    </p>
  );
}

function Troubled() {
  const t = s.trouble.value;
  if (!t || (s.server.value !== 'here' && (t.code === 'lost' || t.code === 'token'))) return null;
  return (
    <p class="trouble" role="alert">
      <b>{sentence(t.message)}</b> {sentence(t.hint)}
      {t.acts?.map(([name, act]) => <button key={name} type="button" onClick={act}>{name}</button>)}
      <button type="button" onClick={() => { s.trouble.value = null; }}>close</button>
    </p>
  );
}

/** Opens what was chosen; where that fails the choice goes back to what is open. */
const chosen = (of: HTMLSelectElement, open: (id: string) => Promise<void>, is: () => string | undefined) => void open(of.value).then(() => { of.value = is() ?? ''; });

/** What undo goes back over: the plan on its page, the grade and the mix elsewhere. */
const doing = () => (s.place.value === 'room' ? room : s);

addEventListener('keydown', (e) => {
  if (!(e.ctrlKey || e.metaKey) || e.key.toLowerCase() !== 'z') return;
  if (e.target instanceof HTMLTextAreaElement) return; // a text has its own
  e.preventDefault();
  if (e.shiftKey) doing().redo();
  else doing().undo();
});
const fit = () => { s.ladderHeight.value = Math.max(420, innerHeight - 96); };
addEventListener('resize', fit);
fit();
const root = document.getElementById('page');
const phone = await begin();
if (!phone) {
  watch();
  void s.open();
}
if (root) render(phone ? <Phone /> : <App />, root);

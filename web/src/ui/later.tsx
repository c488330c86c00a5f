// Places whose pages are to come: what does it today.

import { Empty } from './parts.tsx';
import * as s from './state.ts';

export function Episodes() {
  const done = (s.started.value?.files ?? []).filter((f) => f.kind === 'clip' && /-finished\./.test(f.name));
  return (
    <main class="place first">
      <Empty title="Episodes">
        <p>Keeping episodes beside each other in the page is still to come. Today a finished file is held against its source by a command, or by <b>verify</b> on the Picture page after a render.</p>
        <p><code>lampwise verify episode-1-finished.mov --source episode-1.mov --grade lesson.toml</code></p>
        {done.length > 0 && (
          <>
            <h3>Finished files in this folder</h3>
            <ul>{done.map((f) => <li key={f.id}>{f.name} <small>{(f.bytes / 1e6).toFixed(1)} MB</small></li>)}</ul>
          </>
        )}
      </Empty>
    </main>
  );
}

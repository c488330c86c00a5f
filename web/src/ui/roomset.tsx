// A plan beside what a switch clip measured: each lamp alone, place by place.

import type * as api from '../api/client.gen.ts';
import { signed } from '../core/stops.ts';
import * as r from './roomstate.ts';
import * as s from './state.ts';

export function BesideSet({ room }: { room: api.LivePlan }) {
  const sets = s.started.value?.sets ?? [];
  const met = r.met.value;
  if (sets.length === 0) return <p class="note">No set is known yet. Learn one from a switch clip on the Lamps page; what it measured then stands here beside what the plan predicts.</p>;
  const places = [...new Set((met?.lamps ?? []).flatMap((l) => l.regions.map((g) => g.region)))];
  const apart = met?.lamps.some((l) => l.factor_stops !== null && Math.abs(l.factor_stops) >= 0.005) ?? false;
  return (
    <div class="besideset">
      <p class="buttons">
        <label>set <select value={r.joined.value} onChange={(e) => r.join(e.currentTarget.value)}><option value="">none</option>{sets.map((x) => <option key={x.name}>{x.name}</option>)}</select></label>
        <button type="button" disabled={!met || !apart} onClick={() => met && take(room, met)}>take the factors into the plan</button>
      </p>
      {met && (
        <table>
          <thead>
            <tr><th scope="col">alone</th>{met.lamps.map((l) => <th key={l.name} scope="col">{l.name}</th>)}</tr>
          </thead>
          <tbody>
            {places.map((p) => (
              <tr key={p}>
                <th scope="row">{p}</th>
                {met.lamps.map((l) => {
                  const g = l.regions.find((x) => x.region === p);
                  return <td key={l.name}>{g ? <>{signed(g.planned_stops, 1)} → {g.within ? signed(g.measured_stops, 1) : <b title="apart by more than the plan’s own doubt">{signed(g.measured_stops, 1)} !</b>}</> : '–'}</td>;
                })}
              </tr>
            ))}
            <tr>
              <th scope="row">factor</th>
              {met.lamps.map((l) => <td key={l.name}>{l.factor_stops === null ? 'none' : `${signed(l.factor_stops)} ± ${l.se.toFixed(2)}`}</td>)}
            </tr>
          </tbody>
        </table>
      )}
      <p class="note">
        {met ? `The ladder shows what the set’s places read beside what is planned: solid, its lamps at this plan’s levels. ` : 'Choose a set: what it measured then stands here and on the ladder beside what is planned. '}
        Planned → measured, stops from grey, each lamp alone; ! where they lie further apart than the plan doubts itself. The factor is what to add to the lamp in the plan.
        {met && met.not_in_set.length > 0 && ` Not in the set: ${met.not_in_set.join(', ')}.`}
        {met && met.not_in_plan.length > 0 && ` Not in the plan: ${met.not_in_plan.join(', ')}.`}
      </p>
    </div>
  );
}

/** Takes the measured factors on, added to those that stand in the plan: one step of undo. */
function take(room: api.LivePlan, met: api.PlanMet) {
  const changes: api.PlanChange[] = [];
  room.plan.lamp.forEach((l, i) => {
    const m = met.lamps.find((x) => x.name === l.name);
    if (!m || m.factor_stops === null) return;
    changes.push({ key: `lamp.${i}.measured_stops`, value: Number(((l.measured_stops ?? 0) + m.factor_stops).toFixed(3)) }, { key: `lamp.${i}.measured_se`, value: Number(m.se.toFixed(3)) });
  });
  r.change(`met ${met.set} ${performance.now()}`, ...changes);
}

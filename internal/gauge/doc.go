// Package gauge measures clips and finished files in the trade's units. It is
// pure arithmetic on frames: it reads no files and runs nothing.
//
// What measures is an accumulator: a Viewer looks at each decoded frame once
// and takes samples from it, every accumulator's Add is given that View, and
// Result says what was found, as plain data. A Meter holds all of them.
//
// Invariants:
//   - Memory does not depend on the number of frames: what runs over time is
//     kept in a series that joins neighbours when it is full.
//   - Every detector states its detection limit as a constant, and a drill
//     plants faults of 1, 2 and 4 times that limit. What it can't tell it
//     says in words; a Result holds no NaN and no infinity, and JSON can
//     always be made of it.
//   - Frame.Index is the frame's number in the clip, not in the stretch that
//     was read: frames count as neighbours only where it rises by one.
//   - Frame.Time is in seconds from the clip's start and never falls.
//   - Stops are from grey (18 % reflectance) in scene-linear light.
package gauge

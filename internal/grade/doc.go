// Package grade is the path: the fixed order of stages that carries a recorded
// log signal to a finished display signal.
//
// A [Grade] is plain settings, read from and written to a readable TOML file
// and validated once, at that border. [Build] joins it with what is known of a
// clip and resolves everything to numbers; the resulting [Path] evaluates a
// colour exactly (float64, stage by stage, no tables) and compiles itself to a
// picture.Program for the fast executors.
//
// Domains. Between two stages a colour is in one of three domains:
//
//   - scene light: scene-linear camera RGB, 0.18 = grey (after decode, exposure, balance);
//   - log: the camera curve's own signal y (after split, curve, saturation);
//   - screen: BT.709 display signal R′G′B′, 0..1, to be shown by a BT.1886
//     display (after convert, look, vignette, encode).
//
// Invariants. A path never returns NaN or infinity for any input. A stage that
// is off leaves the colour alone and no op in the program. Decode holds y
// inside the recorded codes, so that the exact path and every table speak
// of the same domain. Luma is BT.709's weights in every domain (ASC CDL uses
// them too), so that split, saturation and CDL share one luma.
package grade

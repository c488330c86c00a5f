// Package colour holds the published arithmetic of colour in float64: camera
// and display curves, gamuts, adaptation, colour temperature, differences,
// code ranges.
//
// Invariants:
//
//   - A constant stands once, as its source prints it. Matrices and inverses
//     are derived from primaries (SMPTE RP 177), never typed twice.
//   - Every curve is finite for every finite input and its Decode is monotone
//     over the whole number line; NaN in gives NaN out.
//   - Camera curves bear neutral names, log-NNN, NNN being the 10-bit code of
//     18 % grey; their constants come from their makers' published technical
//     notes and were checked against a reference library.
//   - Nothing here reads files or keeps state.
package colour

// Package lamps holds the room as a linear system: light adds. From the holds
// of a switch clip it separates the picture each lamp adds (B), solves the
// levels that give a wanted picture, and explains a later frame as a mix of
// the known lamp pictures.
//
// The model, for pixel p, channel c and hold s, in scene-linear camera RGB:
//
//	Y(s,p,c) = g(s)·M(s)·(A(p,c) + Σ_i D(s,i)·B(i,p,c)) + noise
//
// with A the ambient light, D the levels, g and M the camera's gain and white
// balance, which are 1 within a switch clip filmed on manual.
//
// Invariants:
//   - Every image is scene-linear camera RGB with grey (18 %) at 0.18; decoding
//     is done before, display after.
//   - A lamp picture may be negative: saturated colours can rightly be so in
//     camera RGB, and noise is not rectified. Only a display clamps.
//   - A clipped sample has no weight in any channel, since the sensor clips
//     before the camera's matrix.
//   - Doubt is a value: each estimate carries its standard error, and a case
//     that can't be told apart is refused by name, with the hold that would
//     settle it.
//   - Nothing here knows of files, clips, clocks or the user's settings.
package lamps

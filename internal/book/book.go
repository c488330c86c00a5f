// Package book names what lampwise keeps. It holds nouns only: no files, no
// database, no arithmetic. The store writes them down; the jobs make and read them.
package book

import "time"

// CurveAlias remembers what a person once said: a clip whose metadata looks
// like this was recorded with that curve.
type CurveAlias struct {
	// Fingerprint is the stable text that stands for the metadata's hint.
	Fingerprint string
	// Curve is the curve's id (log-NNN, or the path of the user's own).
	Curve string
	// Said is when the person said so.
	Said time.Time
}

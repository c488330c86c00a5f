// Package optics computes what a lens and an exposure do: angle of view,
// framing, depth of field, background blur, ISO 2720 exposure, neutral density,
// T-stops, shutter angles and the exposure times at which mains-fed lamps
// don't flicker.
//
// Invariants: thin lens, distances from the lens; every function is pure and
// keeps to the units its types name. Where a formula has no meaning (an object
// nearer than the focal length) the result is NaN, never a wrong number.
package optics

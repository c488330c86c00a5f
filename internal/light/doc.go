// Package light computes what lamps do in a room: the illuminance that point,
// beam, disc, rectangular, spherical and tubular sources give on small planes
// of any direction, what the walls give back, what stands in the way, and the
// electrical load.
//
// Invariants: light adds, so every result is kept lamp by lamp and a mix is
// their sum. Places are in metres from the room's corner at the left of the
// camera: x to the right, y away from the front wall, z up. A source's own
// face throws no shadow. Every number that a plan gives has been checked before
// it's used, once, in Check; what is compiled from a plan isn't checked again.
package light

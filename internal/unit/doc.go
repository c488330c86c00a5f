// Package unit holds the physical quantities of the trade as types of their
// own, so that a stop is never added to a kelvin and a lux never read as a
// candela. Each is a float64 in the unit its name says; only the conversions
// that the program needs are here.
package unit

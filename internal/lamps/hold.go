package lamps

import "lampwise/internal/unit"

// Hold is a stretch of a switch clip in which the light is steady, averaged.
type Hold struct {
	Start, End unit.Second // of the steady stretch, from the clip's start
	Frames     int         // averaged
	// Mean is the robust mean of the frames; Mean.Frames is the effective
	// number of independent frames behind it.
	Mean *Light
	// Moving marks pixels whose samples moved more than the noise explains.
	Moving []bool
	// Steady tells of what changed within the hold, or around it.
	Steady Steadiness
}

// Steadiness is what a hold's frames say of the light's constancy.
type Steadiness struct {
	Slope   unit.Stop   // change of the frame's mean light over the hold
	Flicker float64     // deviation of the frame's mean light about its slope, as a fraction
	Lead    unit.Second // time from the change of light to the steady stretch
	Settled unit.Stop   // how far the light still moved in that time (warm-up, slow fade)
}

// Middle is the hold's middle time.
func (h *Hold) Middle() unit.Second { return (h.Start + h.End) / 2 }

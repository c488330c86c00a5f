package gauge

import (
	"fmt"

	"lampwise/internal/unit"
)

// Pattern is a regular pattern of light and dark.
type Pattern struct {
	Pairs      float64                    `json:"pairs"`
	PairsError float64                    `json:"pairs_error"`
	Area       float64                    `json:"area"`       // part of the picture
	Difference unit.CandelaPerSquareMetre `json:"difference"` // from dark to light
	Error      unit.CandelaPerSquareMetre `json:"error"`      // of Difference
	Moves      bool                       `json:"moves"`
}

func (k *pattern) result() *Pattern {
	if !k.any {
		return nil
	}
	s := k.worst
	d := unit.CandelaPerSquareMetre(s.difference)
	return &Pattern{Pairs: s.pairs, PairsError: 1 + 0.1*s.pairs, Area: s.area, Difference: d, Error: patternRelative * d, Moves: s.moves}
}

func (p *Pattern) problem(peak, from, to float64) Problem {
	still, allowed := "still", patternStill
	if p.Moves {
		still, allowed = "moving", patternMoving
	}
	return Problem{
		Kind: "pattern", What: fmt.Sprintf("a regular pattern: %.0f pairs of light and dark stripes, %s, %.0f cd/m² apart over %.0f %% of the picture (ITU-R BT.1702 allows %d pairs over more than %.0f %%; a display of %.0f cd/m² assumed)",
			p.Pairs, still, float64(p.Difference), 100*p.Area, patternPairs, 100*allowed, peak),
		Size: p.Pairs, Error: p.PairsError, Unit: "pairs of stripes", From: from, To: to, Severity: Warn,
		Advice: "it can harm photosensitive viewers, and cameras make moiré of it: frame it smaller, defocus it or lower its contrast",
	}
}

package gauge

import (
	"cmp"
	"fmt"
	"slices"
)

// Severity says how much a problem matters.
type Severity string

const (
	Note  Severity = "note"  // worth knowing; nothing is lost
	Warn  Severity = "warn"  // visible to who looks for it, or will be after grading
	Fault Severity = "fault" // visible to everybody, or lost for good
)

// Problem is one thing found wrong in a clip: what, how much, when, and what
// to do about it.
type Problem struct {
	Kind     string   `json:"kind"`            // stable id, lower case with hyphens
	What     string   `json:"what"`            // in words
	Size     float64  `json:"size"`            // in Unit
	Error    float64  `json:"error,omitempty"` // what Size may be off by, in Unit (about 95 % of the time within)
	Unit     string   `json:"unit"`
	From     float64  `json:"from"` // s
	To       float64  `json:"to"`   // s
	Severity Severity `json:"severity"`
	Advice   string   `json:"advice"`
	Where    []Box    `json:"where,omitempty"` // parts of the picture, where it is in part of it only
}

// Amount is the size with its error and unit, in words.
func (p Problem) Amount() string {
	unit := p.Unit
	if p.Size == 1 && unit == "frames" {
		unit = "frame"
	}
	if p.Error > 0 {
		return fmt.Sprintf("%.3g ± %.2g %s", p.Size, p.Error, unit)
	}
	return fmt.Sprintf("%.3g %s", p.Size, unit)
}

// SortProblems puts the worst first, then the earliest.
func SortProblems(p []Problem) {
	rank := map[Severity]int{Fault: 0, Warn: 1, Note: 2}
	slices.SortStableFunc(p, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(rank[a.Severity], rank[b.Severity]), cmp.Compare(a.From, b.From))
	})
}

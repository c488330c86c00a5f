package job

import "fmt"

// cardRow is a region on a set card.
type cardRow struct {
	Region  string
	Reads   float64 // stops from grey, in the reference mix
	Want    float64 // what it is to read; the reference's where nothing else is wanted
	Within  float64 // either side
	Planned bool    // Want is a plan's target
	Percent float64 // of the camera's waveform (narrow range), at Want
	Screen  float64 // of the finished signal, per cent, at Want
}

// drawCardLadder draws what each region read as a dot, what it is to read as
// brackets; clip and floor are stops from grey, NaN where they aren't known.
func drawCardLadder(rows []cardRow, clip, floor float64) []byte {
	var marks []float64
	for _, r := range rows {
		marks = append(marks, r.Reads, r.Want-r.Within, r.Want+r.Within)
	}
	l := newLyingLadder(len(rows), marks, clip, floor, []string{"stops", "waveform", "screen"})
	for i, r := range rows {
		y := l.row(i, r.Region, minus(fmt.Sprintf("%+.2f ±%.1f", r.Want, r.Within)), fmt.Sprintf("%.0f %%", r.Percent), fmt.Sprintf("%.0f %%", r.Screen))
		l.brackets(r.Want-r.Within, r.Want+r.Within, y)
		l.dot(r.Reads, y, true)
	}
	return l.Bytes()
}

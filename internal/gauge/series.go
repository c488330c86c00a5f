package gauge

import "math"

// Moment is a stretch of time and what was measured in it.
type Moment struct {
	From  float64 `json:"from"` // s
	To    float64 `json:"to"`   // s, time of the last frame in it
	N     int     `json:"n"`    // frames
	Mean  float64 `json:"mean"`
	Least float64 `json:"least"`
	Most  float64 `json:"most"`
}

// series keeps several values over time in a bounded number of bins: each
// frame has its own until they are used up, then neighbours are joined.
type series struct {
	columns int
	most    int // bins
	span    int // frames a bin takes by now
	bins    []seriesBin
	open    int // frames in the last bin
}

type seriesBin struct {
	from, to float64
	v        []column
}

type column struct {
	n           int
	sum         float64
	least, most float64
}

func newSeries(columns, most int) *series {
	return &series{columns: columns, most: most - most%2, span: 1}
}

// add takes one frame's values. NaN stands for a value that isn't known.
func (s *series) add(time float64, values ...float64) {
	if len(s.bins) == 0 || s.open == s.span {
		if len(s.bins) == s.most {
			s.join()
		}
	}
	if len(s.bins) == 0 || s.open == s.span {
		s.bins = append(s.bins, seriesBin{from: time, v: make([]column, s.columns)})
		s.open = 0
	}
	b := &s.bins[len(s.bins)-1]
	b.to = time
	s.open++
	for i, v := range values {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			b.v[i].add(column{n: 1, sum: v, least: v, most: v})
		}
	}
}

func (c *column) add(d column) {
	switch {
	case d.n == 0:
	case c.n == 0:
		*c = d
	default:
		c.n, c.sum = c.n+d.n, c.sum+d.sum
		c.least, c.most = min(c.least, d.least), max(c.most, d.most)
	}
}

// join makes one bin of each two.
func (s *series) join() {
	half := len(s.bins) / 2
	for i := range half {
		a, b := s.bins[2*i], s.bins[2*i+1]
		for c := range a.v {
			a.v[c].add(b.v[c])
		}
		a.to = b.to
		s.bins[i] = a
	}
	s.bins = s.bins[:half]
	s.span *= 2
	s.open = s.span
}

// moments are the bins in which the column is known.
func (s *series) moments(c int) []Moment {
	var out []Moment
	for _, b := range s.bins {
		if v := b.v[c]; v.n > 0 {
			out = append(out, Moment{From: b.from, To: b.to, N: v.n, Mean: v.sum / float64(v.n), Least: v.least, Most: v.most})
		}
	}
	return out
}

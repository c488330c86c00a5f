package lamps

// findFigure fills Figure from Misfit: where the holds differ from the sum of
// their lamps over an area, something moved between them, and that is where the
// presenter sits. Edges of shadows, being thin, don't count.
func (s *Separation) findFigure() {
	if s.Misfit == nil {
		return
	}
	w, h := s.W/binSide(s.W), s.H/binSide(s.W)
	m := make([]bool, w*h)
	for i, v := range s.Misfit {
		m[i] = v > figureMisfit
	}
	const join, thin, reach = 2, 2, 3
	m = grown(m, w, h, join)
	m = shrunk(m, w, h, join+thin)
	m = grown(m, w, h, thin+reach)
	for _, v := range m {
		if v {
			s.Figure = m
			return
		}
	}
}

// figureMisfit is the variance ratio that marks movement: three times the
// deviation that noise explains.
const figureMisfit = 9

// MarkFigure adds a region (as fractions of the picture) to where the
// presenter sits: a face that was found, the chair.
func (s *Separation) MarkFigure(r Region) {
	side := binSide(s.W)
	w, h := s.W/side, s.H/side
	if s.Figure == nil {
		s.Figure = make([]bool, w*h)
	}
	for _, p := range r.Pixels(s.W, s.H) {
		x, y := p%s.W/side, p/s.W/side
		if x < w && y < h {
			s.Figure[y*w+x] = true
		}
	}
}

// shrunk keeps the marked places that are further than reach from any
// unmarked one; outside the picture counts as marked.
func shrunk(mask []bool, w, h, reach int) []bool {
	not := make([]bool, len(mask))
	for i, m := range mask {
		not[i] = !m
	}
	out := grown(not, w, h, reach)
	for i, m := range out {
		out[i] = !m
	}
	return out
}

package picture

// Kind implements Op.
func (m *Matrix) Kind() string { return "matrix" }

// Apply implements Op.
func (m *Matrix) Apply(v [3]float64) [3]float64 {
	var out [3]float64
	for i := range 3 {
		out[i] = total(m.M[i][0]*v[0] + m.M[i][1]*v[1] + m.M[i][2]*v[2] + m.Offset[i])
	}
	return out
}

// Kind implements Op.
func (r *Range) Kind() string { return "range" }

// Apply implements Op.
func (r *Range) Apply(v [3]float64) [3]float64 {
	for i, x := range v {
		x = total(x*r.Slope + r.Offset)
		if r.Min != nil {
			x = max(x, *r.Min)
		}
		if r.Max != nil {
			x = min(x, *r.Max)
		}
		v[i] = x
	}
	return v
}

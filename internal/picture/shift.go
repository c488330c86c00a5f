package picture

// Kind implements Op.
func (s *Shift) Kind() string { return "shift" }

// Apply implements Op.
func (s *Shift) Apply(v [3]float64) [3]float64 {
	x := s.Weights[0]*v[0] + s.Weights[1]*v[1] + s.Weights[2]*v[2]
	t := (x - s.Lo) / (s.Hi - s.Lo)
	for ch := range 3 {
		table := s.Table[ch]
		i, f := placeEven(t, len(table))
		d := table[i]
		if f > 0 {
			d += f * (table[i+1] - table[i])
		}
		v[ch] = total(v[ch] + d)
	}
	return v
}

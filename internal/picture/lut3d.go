package picture

// Kind implements Op.
func (l *LUT3D) Kind() string { return "lut3d" }

// Apply implements Op.
func (l *LUT3D) Apply(v [3]float64) [3]float64 {
	var i [3]int
	var f [3]float64
	for ch := range 3 {
		t := (v[ch] - l.Lo[ch]) / (l.Hi[ch] - l.Lo[ch])
		i[ch], f[ch] = placeEven(t, l.Size)
	}
	var out [3]float64
	if l.Interp == Trilinear {
		out = l.trilinear(i, f)
	} else {
		out = l.tetrahedral(i, f)
	}
	for ch := range 3 {
		out[ch] = total(v[ch] + l.Strength*(out[ch]-v[ch]))
	}
	return out
}

// node is the colour at a grid point; a number beyond the grid means its edge.
func (l *LUT3D) node(r, g, b int) [3]float64 {
	n := l.Size
	r, g, b = min(r, n-1), min(g, n-1), min(b, n-1)
	o := 3 * (r + n*(g+n*b))
	return [3]float64{l.Data[o], l.Data[o+1], l.Data[o+2]}
}

// tetrahedral splits the cell into six tetrahedra along its grey diagonal, by
// the order of the three fractions (Common LUT Format, LUT3D, appendix on
// tetrahedral interpolation).
func (l *LUT3D) tetrahedral(i [3]int, f [3]float64) [3]float64 {
	// Walk from the low corner to the high one, the largest fraction first.
	order := [3]int{0, 1, 2}
	if f[order[0]] < f[order[1]] {
		order[0], order[1] = order[1], order[0]
	}
	if f[order[1]] < f[order[2]] {
		order[1], order[2] = order[2], order[1]
	}
	if f[order[0]] < f[order[1]] {
		order[0], order[1] = order[1], order[0]
	}
	at := i
	last := l.node(at[0], at[1], at[2])
	out := last
	for _, axis := range order {
		at[axis]++
		next := l.node(at[0], at[1], at[2])
		for ch := range 3 {
			out[ch] += f[axis] * (next[ch] - last[ch])
		}
		last = next
	}
	return out
}

func (l *LUT3D) trilinear(i [3]int, f [3]float64) [3]float64 {
	var out [3]float64
	for corner := range 8 {
		w, at := 1.0, i
		for axis := range 3 {
			if corner>>axis&1 == 1 {
				w *= f[axis]
				at[axis]++
			} else {
				w *= 1 - f[axis]
			}
		}
		if w == 0 {
			continue
		}
		n := l.node(at[0], at[1], at[2])
		for ch := range 3 {
			out[ch] += w * n[ch]
		}
	}
	return out
}

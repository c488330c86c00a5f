package demo

// paintSkin colours the head by where on it a spot is: redder on nose, cheeks
// and ears, lip on the lips, the shadow of a beard on the jaw.
func paintSkin(s *spot, f frame) {
	q := s.q
	a := vec{abs32(q.x), q.y, q.z}
	mottle := turbulence(q.mul(45), 3)
	red := 0.28 + 0.5*mottle
	near := func(c vec, r float32) float32 { return 1 - smooth32(0.4*r, r, a.sub(c).length()) }
	red += 0.35 * near(v3(0.045, -0.030, 0.065), 0.035)
	red += 0.45 * near(v3(0, -0.038, 0.100), 0.022)
	red += 0.50 * near(v3(0.079, 0.0, -0.02), 0.035)
	red += 0.25 * near(v3(0.0315, 0, 0.078), 0.020)
	s.mix(colSkin, colSkinFlushed, clamp32(red, 0, 1))
	k := 0.97 + 0.06*turbulence(q.mul(120), 2)
	// Brown spots.
	if sp := valueNoise(vec{q.x*210 + 3, q.y * 210, q.z * 210}); sp > 0.82 {
		k *= 0.90
	}
	k *= 1 - 0.10*near(v3(0.028, -0.012, 0.078), 0.014) // under the eyes
	s.times(k)
	s.gloss(0.028, 0.36)
	if a.y > -0.05 && a.z > 0.06 && a.x < 0.02 || a.y > 0.02 {
		s.rough = 0.31 // brow and nose shine
	}
	if lip := lipField(a); lip < 0.0016 && q.z > 0.05 {
		t := 1 - smooth32(0.0002, 0.0016, lip)
		s.tints[2] = tint{colLip, t * 0.95}
		s.tints[0].share *= 1 - t
		s.tints[1].share *= 1 - t
		s.rough = 0.36 - 0.08*t
	}
	if t := 0.8 * hairline(q); t > 0 { // the scalp under the hair
		s.tints[0].share *= 1 - t
		s.tints[1].share *= 1 - t
		s.tints[2] = tint{colHair, t}
	}
	if t := beardAt(a) * (0.75 + 0.5*mottle); t > 0 {
		t = clamp32(0.42*t, 0, 1)
		s.tints[0].share *= 1 - t
		s.tints[1].share *= 1 - t
		if s.tints[2].share == 0 {
			s.tints[2] = tint{colHair, t}
		}
	}
	s.bump(f, func(q vec) float32 {
		h := 0.00016*valueNoise(q.mul(380)) + 0.00025*valueNoise(q.mul(140))
		if q.y > 0.03 && q.z > 0.04 { // lines on the brow
			w := sin32(q.y*560 + 1.2*valueNoise(vec{q.x * 40, q.y * 20, 0}))
			h += 0.00012 * w * smooth32(0.03, 0.04, q.y) * (1 - smooth32(0.058, 0.068, q.y))
		}
		return h
	}, 0.0008)
}

// beardAt says how much beard grows at a place of the head (x ≥ 0): 0..1.
func beardAt(a vec) float32 {
	if a.z < -0.012 {
		return 0
	}
	// The line from the ear over the cheek to the moustache.
	line := -0.030 - 0.30*clamp32(a.z-0.0, 0, 0.045) - 0.10*clamp32(a.z-0.045, 0, 1)
	t := 1 - smooth32(line-0.012, line+0.006, a.y)
	if a.z > 0.078 && a.y > -0.062 { // moustache under the nose only
		t = (1 - smooth32(-0.053, -0.050, a.y)) * (1 - smooth32(0.024, 0.034, a.x))
	}
	t *= smooth32(-0.135, -0.112, a.y) // down the throat
	if d := lipField(a); d < 0.004 {
		t *= smooth32(0.0012, 0.004, d)
	}
	if a.y > -0.098 && a.y < -0.078 && a.x < 0.02 && a.z > 0.07 {
		t *= 0.75
	}
	return t * smooth32(-0.012, 0.004, a.z)
}

// paintEye draws pupil, iris and white by the angle from the gaze.
func paintEye(s *spot, f frame) {
	g := v3(gazeX, gazeY, 1).unit()
	d := s.q.unit()
	if s.q.z > 0.008 && s.q.length() > eyeBall*1.001 { // on the cornea: look through to the iris
		d = s.q.sub(g.mul(0.002)).unit()
	}
	c := d.dot(g)
	r := sqrt32(max(0, 1-c*c)) * eyeBall
	switch {
	case c > 0 && r < 0.0021:
		s.paint(colBlack, 0.6)
	case c > 0 && r < 0.0062:
		x, y := basis(g)
		turn := valueNoise(vec{d.dot(x) * 900 * 0.012 / max(r, 1e-4) * 0.35, d.dot(y) * 900 * 0.012 / max(r, 1e-4) * 0.35, 2})
		s.paint(colIris, (0.75+0.5*turn)*(1-0.55*smooth32(0.0048, 0.0062, r)))
	default:
		s.mix(colSclera, colSkinFlushed, clamp32(0.05+0.35*smooth32(0.007, 0.0118, r), 0, 1))
		s.times(1 - 0.25*(1-smooth32(0.0062, 0.0070, r)))
	}
	s.gloss(0.04, 0.05)
}

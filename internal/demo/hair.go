package demo

// strand adds a hair: a thin three-sided bar that narrows to its end. Its
// shading goes by its direction, not by the bar's sides.
func (b *builder) strand(path []vec, r float32) {
	first := len(b.facets)
	n := len(path)
	b.sweep(path, func(i int) float32 { return r * (1 - 0.75*float32(i)/float32(n-1)) }, 3, false)
	per := (len(b.facets) - first) / (n - 1)
	for i := first; i < len(b.facets); i++ {
		k := (i - first) / per
		b.facets[i].tangent = b.f.dir(path[k+1].sub(path[k])).unit()
	}
}

// scalp is a place where hair grows: on the skin, with the skin's normal.
func scalp(p vec, f field) (at, n vec) {
	const h = 0.0005
	for range 4 {
		d := f(p)
		n = vec{
			f(vec{p.x + h, p.y, p.z}) - d,
			f(vec{p.x, p.y + h, p.z}) - d,
			f(vec{p.x, p.y, p.z + h}) - d,
		}.unit()
		p = p.mad(-d, n)
	}
	return p, n
}

// hairline says whether head hair grows at a place, with a soft edge (0..1).
func hairline(p vec) float32 {
	x := abs32(p.x)
	// Over the brow, receding beside the middle; down in front of the ear; to the nape.
	line := float32(0.071) + 0.008*smooth32(0.012, 0.04, x) - 0.016*smooth32(0.045, 0.062, x)
	if p.z < 0.040 {
		t := smooth32(0.040, 0.012, p.z)
		line += (0.004 - line) * t
	}
	if p.z < 0.004 {
		t := smooth32(0.004, -0.045, p.z)
		line += (-0.062 - line) * t
	}
	if x > 0.068 && p.z > -0.04 && p.y < 0.024 {
		return 0 // the ear
	}
	return smooth32(line-0.005, line+0.005, p.y)
}

// comb is the way the hair lies: from a parting on his right over to the left
// and back, down at the sides.
func comb(p, n vec) vec {
	top := smooth32(0.045, 0.085, p.y)
	side := float32(1)
	if p.x < -0.028 {
		side = -1
	}
	over := vec{0.75 * side, 0.1, -0.55}
	if p.z > 0.045 {
		over = over.add(vec{0, 0.55, 0.25})
	}
	down := vec{0.15 * side, -1, -0.55}
	d := down.lerp(over, top)
	return d.sub(n.mul(d.dot(n))).unit()
}

func buildHair(b *builder, m *materialSet, f frame, detail float64) {
	r := seeded(0x4a17)
	skull := func(p vec) float32 {
		return headField(p)
	}
	b.begin(f, m.get("hair"))
	// Fewer, thicker hairs for small pictures cover the same.
	count := int(9000 * detail)
	width := float32(0.00042 / detail)
	for i := 0; i < count; {
		u := vec{float32(r.normal()), float32(r.normal()), float32(r.normal())}.unit()
		if u.y < -0.75 {
			continue
		}
		p, n := scalp(v3(0, 0.030, -0.012).add(u.scale(v3(0.078, 0.086, 0.100))), skull)
		k := hairline(p)
		if r.float() >= k {
			continue
		}
		i++
		top := smooth32(0.035, 0.075, p.y)
		length := (0.010 + 0.028*top) * (0.6 + 0.4*k) * float32(r.between(0.75, 1.15))
		lift := 0.16 + 0.45*top
		if p.z > 0.04 && p.y > 0.07 {
			lift += 0.25 // the front stands up before it falls over
		}
		clump := vec{valueNoise(p.mul(95)), valueNoise(p.mul(95).add(vec{31, 7, 3})), valueNoise(p.mul(95).add(vec{-9, 53, 1}))}
		d := comb(p, n).mad(lift, n).mad(0.25, clump).mad(0.12, vec{float32(r.normal()), float32(r.normal()), float32(r.normal())}).unit()
		b.strand(grow(p, d, length, skull), width*float32(r.between(0.8, 1.2)))
	}
	buildBeard(b, f, skull, detail, &r)
	moustache(b, skull, detail, &r)
	buildBrows(b, skull, detail, &r)
}

// moustache grows from under the nose to the corners of the mouth.
func moustache(b *builder, skin field, detail float64, r *random) {
	for range int(650 * detail) {
		x := 0.027 * (2*r.float() - 1)
		y := -0.0545 - 0.0085*r.float() - 0.004*abs32(x)/0.027
		p, n := scalp(vec{x, y, 0.088 - 9*x*x}, skin)
		d := vec{1.6 * x / 0.027, -1, 0}
		d = d.sub(n.mul(d.dot(n))).unit().mad(0.35, n).mad(0.2, vec{float32(r.normal()), float32(r.normal()), 0}).unit()
		l := float32(r.between(0.004, 0.007))
		b.strand([]vec{p.mad(-0.0005, n), p.mad(0.5*l, d), p.mad(l, d.mad(-0.35, n).unit())}, 0.00026/float32(detail))
	}
}

// grow lets a hair run along d, falling back to lie on the head.
func grow(p, d vec, length float32, f field) []vec {
	const n = 4
	step := length / n
	path := []vec{p.mad(-0.001, d)}
	for i := range n {
		p = p.mad(step, d)
		h := f(p)
		if low := 0.0012 + 0.0012*float32(i); h < low {
			_, nn := scalp(p, f)
			p = p.mad(low-h, nn)
		}
		path = append(path, p)
		_, nn := scalp(p, f)
		t := comb(p, nn)
		d = d.mad(0.30, t).mad(-0.14, nn).mad(0.1, vec{0, -1, 0}).unit()
	}
	return path
}

func buildBeard(b *builder, f frame, skin field, detail float64, r *random) {
	count := int(9000 * detail)
	width := float32(0.00026 / detail)
	for i := 0; i < count; {
		p := v3(r.between(-0.075, 0.075), r.between(-0.135, -0.02), r.between(-0.015, 0.10))
		if abs32(skin(p)) > 0.012 {
			continue
		}
		p, n := scalp(p, skin)
		if r.float() >= beardAt(vec{abs32(p.x), p.y, p.z}) {
			continue
		}
		i++
		down := v3(0.25*float64(p.x)/0.07, -1, 0.1)
		if p.y > -0.062 && p.z > 0.07 {
			down = v3(2.2*float64(p.x)/0.03, -0.6, 0)
		}
		d := down.sub(n.mul(down.dot(n))).unit().mad(0.55, n).mad(0.25, vec{float32(r.normal()), float32(r.normal()), float32(r.normal())}).unit()
		l := float32(r.between(0.0025, 0.0055))
		if p.y < -0.085 {
			l *= 1.4
		}
		b.strand([]vec{p.mad(-0.0005, n), p.mad(0.5*l, d), p.mad(l, d.mad(0.3, down).unit())}, width)
	}
}

func buildBrows(b *builder, skin field, detail float64, r *random) {
	for _, s := range []float32{-1, 1} {
		for range int(420 * detail) {
			u := r.float()
			x := 0.012 + 0.040*u
			y := 0.0190 + 0.0045*float32(1-(float64(u)-0.66)*(float64(u)-0.66)*3.2)
			spread := 0.0036 * (1 - 0.65*u)
			p, n := scalp(vec{s * x, y + spread*(2*r.float()-1), 0.082 - 0.018*u*u}, skin)
			out := vec{s * 1, 0.55 - 0.95*u, 0}
			d := out.sub(n.mul(out.dot(n))).unit().mad(0.25, n).mad(0.12, vec{float32(r.normal()), float32(r.normal()), 0}).unit()
			l := float32(r.between(0.005, 0.008))
			b.strand([]vec{p, p.mad(0.5*l, d), p.mad(l, d.mad(-0.2, n).unit())}, 0.0002/float32(detail))
		}
	}
	// Lashes of the upper lids.
	for _, s := range []float32{-1, 1} {
		for i := range 46 {
			x := -0.0145 + 0.029*float32(i)/45
			up, _ := lidLine(x)
			p := vec{s*eyeX + s*x, eyeY + up, eyeZ + sqrt32(max(0, 0.0140*0.0140-x*x-up*up))}
			d := vec{s * x * 25, 0.25, 1}.unit()
			b.strand([]vec{p, p.mad(0.004, d), p.mad(0.0065, d.add(vec{0, 0.35, 0}).unit())}, 0.00017/float32(detail))
		}
	}
}

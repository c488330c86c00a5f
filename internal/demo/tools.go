package demo

import "math"

// tools.go makes the small things that hang and lie about. Each stands in a
// frame whose y axis is its length and whose z axis faces out.

// spanner: an open jaw above, a ring below.
func spanner(b *builder, m *materialSet, f frame, length float64) {
	b.begin(f, m.get("chrome"))
	w := 0.055 + 0.060*length
	b.box(v3(0, 0, 0), w*0.20, length*0.74, 0.0045, 0.0015)
	ring := f
	ring.y, ring.z = f.z, f.y
	ring.o = f.point(v3(0, -length*0.43, 0))
	ring.x = ring.y.cross(ring.z)
	b.in(ring).torus(vec{}, w*0.16, w*0.062, 22, 8, 0, 1)
	b.in(f)
	for _, s := range []float64{-1, 1} {
		b.in(f.shift(s*w*0.16, length*0.445, 0).turn(2, -s*8)).box(vec{}, w*0.13, length*0.15, 0.0055, 0.0015)
	}
	b.in(f).box(v3(0, length*0.385, 0), w*0.40, length*0.065, 0.0055, 0.0015)
}

func screwdriver(b *builder, m *materialSet, f frame, handle string, length float64) {
	b.begin(f, m.get(handle))
	g := length * 0.42
	b.lathe([][2]float64{
		{0, g}, {0.009, g - 0.001}, {0.0125, g - 0.006}, {0.0135, g * 0.75}, {0.0125, g * 0.45}, {0.0105, g * 0.22}, {0.0115, g * 0.08}, {0.0095, 0.0}, {0, 0},
	}, 18)
	b.begin(f, m.get("chrome"))
	b.rod(v3(0, 0.002, 0), v3(0, -length*0.58, 0), 0.0032, 8)
}

func hammer(b *builder, m *materialSet, f frame) {
	b.begin(f, m.get("pine"))
	b.sweep([]vec{v3(0, 0.14, 0), v3(0, 0.05, 0), v3(0, -0.08, 0), v3(0, -0.15, 0)}, func(i int) float32 {
		return [4]float32{0.010, 0.0095, 0.013, 0.0145}[i]
	}, 12, true)
	b.begin(f, m.get("steel"))
	b.box(v3(0, 0.135, 0), 0.045, 0.026, 0.024, 0.003)
	b.rod(v3(0.02, 0.135, 0), v3(0.058, 0.135, 0), 0.0145, 16)
	b.box(v3(-0.036, 0.135, 0), 0.04, 0.012, 0.022, 0.004)
}

func pliers(b *builder, m *materialSet, f frame, handle string) {
	b.begin(f, m.get(handle))
	for _, s := range []float64{-1, 1} {
		b.pipe([]vec{v3(s*0.006, 0.0, 0), v3(s*0.020, -0.035, 0), v3(s*0.026, -0.075, 0), v3(s*0.020, -0.115, 0)}, 0.0065, 10, 5)
	}
	b.begin(f, m.get("steel"))
	for _, s := range []float64{-1, 1} {
		b.cone(v3(s*0.008, 0.004, 0), v3(s*0.003, 0.055, 0), 0.0085, 0.0035, 10)
	}
	b.rod(v3(0, 0.002, -0.006), v3(0, 0.002, 0.007), 0.009, 14)
}

func hacksaw(b *builder, m *materialSet, f frame) {
	b.begin(f, m.get("blue paint"))
	b.pipe([]vec{v3(-0.16, 0, 0), v3(-0.165, 0.055, 0), v3(-0.155, 0.085, 0), v3(-0.10, 0.092, 0), v3(0.10, 0.092, 0), v3(0.145, 0.085, 0), v3(0.152, 0.03, 0), v3(0.152, 0, 0)}, 0.006, 10, 4)
	b.begin(f, m.get("orange plastic"))
	b.pipe([]vec{v3(0.152, 0.03, 0), v3(0.175, -0.01, 0), v3(0.19, -0.06, 0)}, 0.013, 12, 5)
	b.begin(f, m.get("steel"))
	b.box(v3(-0.004, 0, 0), 0.31, 0.012, 0.0012, 0.0003)
}

// chainring: a toothed ring on five arms.
func chainring(b *builder, m *materialSet, f frame, r float64, teeth int) {
	flat := f
	flat.y, flat.z = f.z, f.y
	flat.x = flat.y.cross(flat.z)
	b.begin(flat, m.get("steel"))
	b.lathe([][2]float64{{r * 0.84, -0.0015}, {r * 0.96, -0.0015}, {r * 0.96, 0.0015}, {r * 0.84, 0.0015}, {r * 0.84, -0.0015}}, 60)
	b.lathe([][2]float64{{r * 0.18, -0.002}, {r * 0.34, -0.002}, {r * 0.34, 0.002}, {r * 0.18, 0.002}, {r * 0.18, -0.002}}, 30)
	for i := range teeth {
		b.in(flat.turn(1, 360*float64(i)/float64(teeth))).box(v3(r*0.985, 0, 0), r*0.07, 0.0024, 2.6*r/float64(teeth), 0.0004)
	}
	for i := range 5 {
		b.in(flat.turn(1, 72*float64(i)+11)).box(v3(r*0.58, 0, 0), r*0.56, 0.003, r*0.12, 0.0006)
	}
}

// can is a tin or a spray can.
func can(b *builder, m *materialSet, f frame, side, top string, r, h float64) {
	b.begin(f, m.get(side))
	b.lathe([][2]float64{{0, 0}, {r, 0}, {r, 0.004}, {r * 0.985, 0.006}, {r * 0.985, h - 0.006}, {r, h - 0.003}, {r, h}}, 28)
	b.begin(f, m.get(top))
	b.lathe([][2]float64{{r, h}, {r * 0.8, h + r*0.28}, {r * 0.42, h + r*0.42}, {r * 0.42, h + r*1.1}, {r * 0.36, h + r*1.2}, {0, h + r*1.2}}, 24)
}

// jar is an open pot with things standing in it.
func jar(b *builder, m *materialSet, f frame, side string, r, h float64, seed uint64) {
	b.begin(f, m.get(side))
	b.lathe([][2]float64{{0, 0}, {r, 0}, {r, h}, {r * 0.93, h}, {r * 0.93, h * 0.2}, {0, h * 0.2}}, 26)
	rn := seeded(seed)
	for i := range 6 {
		a := rn.between(0, 2*math.Pi)
		k := rn.between(0.2, 0.75) * r
		foot := v3(0.3*k*math.Cos(a), h*0.25, 0.3*k*math.Sin(a))
		top := v3(k*1.3*math.Cos(a), h*rn.between(1.5, 2.2), k*1.3*math.Sin(a))
		b.begin(f, m.get([]string{"pine", "red paint", "yellow plastic", "steel", "black plastic", "pine"}[i]))
		b.rod(foot, top, rn.between(0.0025, 0.005), 8)
	}
}

// mug: enamel with a dark rim.
func mug(b *builder, m *materialSet, f frame) {
	b.begin(f, m.get("enamel"))
	b.lathe([][2]float64{{0, 0}, {0.036, 0}, {0.040, 0.004}, {0.041, 0.084}}, 40)
	b.lathe([][2]float64{{0.039, 0.084}, {0.038, 0.006}, {0, 0.006}}, 40)
	b.pipe([]vec{v3(0.040, 0.068, 0), v3(0.060, 0.070, 0), v3(0.068, 0.050, 0), v3(0.058, 0.026, 0), v3(0.040, 0.020, 0)}, 0.0042, 10, 6)
	b.begin(f, m.get("blue paint"))
	b.torus(v3(0, 0.084, 0), 0.040, 0.0016, 40, 8, 0, 1)
	b.begin(f, m.get("coffee"))
	b.lathe([][2]float64{{0.0385, 0.062}, {0, 0.062}}, 40)
}

// kettle is small and polished: in its shoulder stands the lantern's image.
func kettle(b *builder, m *materialSet, f frame) {
	b.begin(f, m.get("polished"))
	const r = 0.068
	body := [][2]float64{{0, 0.001}, {r * 0.94, 0.001}, {r, 0.008}, {r, 0.030}}
	for i := range 15 {
		s, c := math.Sincos(math.Pi / 2 * float64(i) / 15)
		body = append(body, [2]float64{r*0.42 + r*0.58*c, 0.030 + 0.062*s})
	}
	body = append(body, [2]float64{r * 0.42, 0.092}, [2]float64{r * 0.38, 0.096}, [2]float64{r * 0.15, 0.102}, [2]float64{0, 0.103})
	b.lathe(body, 72)
	b.sweep(rounded([]vec{v3(r*0.9, 0.035, 0), v3(r*1.25, 0.055, 0), v3(r*1.42, 0.082, 0), v3(r*1.65, 0.096, 0)}, 5), func(i int) float32 {
		return 0.015 - 0.0005*float32(i)
	}, 20, true)
	b.begin(f, m.get("black plastic"))
	b.ball(v3(0, 0.112, 0), v3(0.010, 0.010, 0.010), 14)
	b.pipe([]vec{v3(-r*0.78, 0.070, 0), v3(-r*0.70, 0.130, 0), v3(0, 0.165, 0), v3(r*0.62, 0.140, 0), v3(r*0.72, 0.080, 0)}, 0.0058, 12, 7)
}

// bell is a bicycle's, a chromed dome on its foot.
func bell(b *builder, m *materialSet, f frame) {
	b.begin(f, m.get("chrome"))
	const r, n = 0.029, 14
	dome := [][2]float64{{r, 0.010}, {r + 0.0012, 0.012}}
	for i := range n + 1 {
		s, c := math.Sincos(math.Pi / 2 * float64(i) / n)
		dome = append(dome, [2]float64{r * c, 0.014 + 0.021*s})
	}
	b.lathe(dome, 48)
	b.begin(f, m.get("black plastic"))
	b.lathe([][2]float64{{0, 0}, {0.017, 0}, {0.019, 0.010}, {0, 0.010}}, 24)
	b.pipe([]vec{v3(0.019, 0.006, 0), v3(0.034, 0.010, 0.004), v3(0.042, 0.020, 0.008)}, 0.0045, 10, 4)
}

func oilCan(b *builder, m *materialSet, f frame) {
	b.begin(f, m.get("brass"))
	b.lathe([][2]float64{{0, 0}, {0.036, 0}, {0.038, 0.004}, {0.037, 0.018}, {0.030, 0.042}, {0.012, 0.058}, {0.008, 0.064}}, 36)
	b.sweep([]vec{v3(0, 0.062, 0), v3(0.012, 0.10, 0), v3(0.040, 0.15, 0), v3(0.062, 0.175, 0)}, func(i int) float32 {
		return [4]float32{0.006, 0.0045, 0.003, 0.002}[i]
	}, 10, true)
}

// crate is an open plastic box.
func crate(b *builder, m *materialSet, f frame, mat string, w, h, d float64) {
	b.begin(f, m.get(mat))
	t := 0.004
	b.box(v3(0, t/2, 0), w, t, d, 0.001)
	for _, s := range []float64{-1, 1} {
		b.box(v3(s*(w-t)/2, h/2, 0), t, h, d, 0.001)
		b.box(v3(0, h/2, s*(d-t)/2), w, h, t, 0.001)
	}
	b.box(v3(0, h-0.008, d/2), w+0.008, 0.014, 0.006, 0.002)
}

// tyre hangs or lies: a torus with tread left to the bump of its rubber.
func tyre(b *builder, m *materialSet, f frame, r, fat float64) {
	b.begin(f, m.get("tyre"))
	b.torus(vec{}, r, fat, 72, 14, 0, 1)
}

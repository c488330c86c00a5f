package demo

import "math"

// buildWheel puts the wheel in its truing stand onto the bench.
func buildWheel(b *builder, m *materialSet) {
	f := frame{o: wheelAt, y: wheelAxle, x: wheelAside}
	f.z = f.x.cross(f.y)
	const r = wheelRim
	b.begin(f, m.get("rim"))
	b.lathe([][2]float64{
		{r - 0.0135, -0.004},
		{r - 0.012, -0.0098},
		{r - 0.002, -0.0115},
		{r + 0.009, -0.0115},
		{r + 0.010, -0.0100},
		{r + 0.0085, -0.0085},
		{r + 0.003, -0.0070},
		{r + 0.002, 0.0},
		{r + 0.003, 0.0070},
		{r + 0.0085, 0.0085},
		{r + 0.010, 0.0100},
		{r + 0.009, 0.0115},
		{r - 0.002, 0.0115},
		{r - 0.012, 0.0098},
		{r - 0.0135, 0.004},
		{r - 0.0135, -0.004},
	}, 160)
	buildSpokes(b, m, f, r)
	b.begin(f, m.get("rim"))
	b.lathe([][2]float64{
		{0.0, -0.056},
		{0.0045, -0.056},
		{0.0045, -0.036},
		{0.009, -0.036},
		{0.010, -0.031},
		{0.0265, -0.0305},
		{0.0275, -0.029},
		{0.0265, -0.0275},
		{0.013, -0.026},
		{0.0095, -0.012},
		{0.0095, 0.012},
		{0.013, 0.026},
		{0.0265, 0.0275},
		{0.0275, 0.029},
		{0.0265, 0.0305},
		{0.010, 0.031},
		{0.009, 0.036},
		{0.0045, 0.036},
		{0.0045, 0.056},
		{0.0, 0.056},
	}, 40)
	buildStand(b, m, f)
}

func buildSpokes(b *builder, m *materialSet, f frame, r float64) {
	const spokes = 28
	b.begin(f, m.get("spoke"))
	for i := range spokes {
		side := float64(1 - 2*(i%2))
		lead := float64(1 - 2*((i/2)%2))
		ring := 2 * math.Pi * float64(i) / spokes
		hub := ring + lead*0.92
		a := v3(0.0245*math.Cos(hub), side*0.0295, 0.0245*math.Sin(hub))
		c := v3((r-0.013)*math.Cos(ring), side*0.003, (r-0.013)*math.Sin(ring))
		b.rod(a, c, 0.00105, 6)
	}
	b.begin(f, m.get("brass"))
	for i := range spokes {
		ring := 2 * math.Pi * float64(i) / spokes
		side := float64(1 - 2*(i%2))
		p := func(k float64) vec { return v3(k*math.Cos(ring), side*0.003, k*math.Sin(ring)) }
		b.rod(p(r-0.026), p(r-0.012), 0.0021, 8)
	}
}

// buildStand is the truing stand: a foot on the bench and two arms to the axle.
func buildStand(b *builder, m *materialSet, f frame) {
	up := benchTop - float64(wheelAt.y)
	foot := frame{o: vec{wheelAt.x, benchTop, wheelAt.z}, x: f.x, y: vec{0, 1, 0}, z: f.y}
	b.begin(foot, m.get("teal paint"))
	b.box(v3(0, 0.012, 0), 0.17, 0.024, 0.13, 0.006)
	for _, s := range []float64{-1, 1} {
		b.begin(foot, m.get("teal paint"))
		b.sweep([]vec{v3(0, 0.02, s*0.050), v3(0, 0.09, s*0.056), v3(0, -up-0.006, s*0.056)},
			func(int) float32 { return 0.0095 }, 14, true)
		b.begin(foot, m.get("steel"))
		b.box(v3(0, -up+0.004, s*0.056), 0.030, 0.036, 0.006, 0.001)
		b.rod(v3(0, -up, s*0.048), v3(0, -up, s*0.070), 0.0075, 12)
		b.begin(foot, m.get("black plastic"))
		b.rod(v3(0, 0.026, s*0.060), v3(0, 0.026, s*0.078), 0.014, 20)
	}
	// The feeler that shows where the rim runs out.
	b.begin(foot, m.get("steel"))
	x := wheelRim * 0.86
	b.pipe([]vec{v3(0.05, 0.02, 0), v3(0.11, 0.035, 0), v3(x*0.93, 0.075, 0), v3(x, 0.105, 0)}, 0.0055, 10, 6)
	for _, s := range []float64{-1, 1} {
		b.pipe([]vec{v3(x, 0.105, 0), v3(x, 0.112, s*0.022), v3(x-0.012, 0.125, s*0.020)}, 0.0028, 8, 5)
	}
}

// buildBicycle: the one under repair, its back half in the picture, clamped in
// a stand by its seat post. Its own frame: bottom bracket at the origin, x to
// the back wheel, y up.
func buildBicycle(b *builder, m *materialSet) {
	f := at(0.93, 0.93, -1.20).turn(1, -28)
	tube := func(mat string, p, q vec, r float64) {
		b.begin(f, m.get(mat))
		b.rod(p, q, r, 18)
	}
	seat, head := v3(0.152, 0.50, 0), v3(-0.585, 0.46, 0)
	crown := v3(-0.56, 0.36, 0)
	axle := v3(0.415, 0.055, 0)
	const paint = "orange paint"
	tube(paint, vec{}, seat.mul(1.03), 0.0160)
	tube(paint, v3(0.140, 0.468, 0), head.add(v3(0.01, -0.012, 0)), 0.0150)
	tube(paint, vec{}, crown, 0.0180)
	tube(paint, head.add(v3(-0.008, 0.035, 0)), crown.add(v3(0.008, -0.03, 0)), 0.0195)
	for _, s := range []float64{-1, 1} {
		tube(paint, v3(0.02, 0, s*0.025), axle.add(v3(0, 0, s*0.062)), 0.0085)
		tube(paint, v3(0.140, 0.46, s*0.014), axle.add(v3(0, 0, s*0.062)), 0.0075)
	}
	post := seat.unit()
	tube("aluminium", seat, post.mul(0.665), 0.0136)
	b.begin(f.shift(0, 0, 0), m.get("leather"))
	b.nets(saddleField, v3(0.0, 0.62, -0.09), v3(0.36, 0.74, 0.09), 0.0055)
	b.begin(f, m.get("steel"))
	for _, s := range []float64{-1, 1} {
		b.pipe([]vec{v3(0.07, 0.672, s*0.012), v3(0.16, 0.664, s*0.022), v3(0.26, 0.664, s*0.022), v3(0.31, 0.683, s*0.035)}, 0.0035, 8, 5)
	}
	buildBackWheel(b, m, f, axle)
	// The clamp and its pole.
	b.begin(f, m.get("red paint"))
	b.box(post.mul(0.585), 0.055, 0.075, 0.06, 0.008)
	b.begin(f, m.get("grey steel"))
	b.rod(post.mul(0.585).add(v3(0, 0, -0.02)), v3(0.175, 0.60, -0.26), 0.016, 16)
	b.rod(v3(0.175, 0.70, -0.26), v3(0.175, -0.93, -0.26), 0.021, 18)
	// The tail lamp's body under the saddle.
	b.begin(tailFrame, m.get("black plastic"))
	b.lathe([][2]float64{{0, -0.030}, {0.020, -0.029}, {0.0265, -0.020}, {0.0275, -0.003}, {0.0255, 0.001}, {0.0230, 0.001}}, 32)
	b.rod(v3(0, -0.028, 0), tailFrame.inside(f.point(post.mul(0.648))), 0.008, 12)
}

// tailFrame is where the tail lamp sits; it shines along its y axis, turned
// toward the camera so that the picture shows it.
var tailFrame = along(v3(1.135, 1.475, -1.13), v3(0.85, 1.47, 1.4))

func saddleField(p vec) float32 {
	q := vec{p.x, p.y, abs32(p.z)}
	d := limb(q, v3(0.05, 0.690, 0), v3(0.20, 0.692, 0), 0.018, 0.026)
	d = join(d, egg(q, v3(0.285, 0.694, 0.034), v3(0.055, 0.022, 0.045)), 0.03)
	return max(d, 0.674-p.y)
}

func buildBackWheel(b *builder, m *materialSet, f frame, axle vec) {
	w := frame{o: f.point(axle), x: f.x, y: f.z}
	w.z = w.x.cross(w.y)
	tyre(b, m, w, 0.325, 0.0165)
	b.begin(w, m.get("rim"))
	b.lathe([][2]float64{{0.292, -0.009}, {0.313, -0.011}, {0.313, 0.011}, {0.292, 0.009}, {0.290, 0}, {0.292, -0.009}}, 110)
	b.begin(w, m.get("spoke"))
	for i := range 28 {
		side := float64(1 - 2*(i%2))
		lead := float64(1 - 2*((i/2)%2))
		ring := 2 * math.Pi * float64(i) / 28
		hub := ring + lead*0.92
		b.rod(v3(0.024*math.Cos(hub), side*0.03, 0.024*math.Sin(hub)), v3(0.292*math.Cos(ring), side*0.003, 0.292*math.Sin(ring)), 0.0011, 5)
	}
	b.begin(w, m.get("steel"))
	for i := range 7 { // the cassette
		r := 0.060 - 0.0062*float64(i)
		b.lathe([][2]float64{{r * 0.6, 0.030 + 0.004*float64(i)}, {r, 0.030 + 0.004*float64(i)}, {r, 0.032 + 0.004*float64(i)}, {r * 0.6, 0.032 + 0.004*float64(i)}}, 40)
	}
	b.rod(v3(0, -0.065, 0), v3(0, 0.068, 0), 0.007, 12)
}

package demo

import "math"

// buildWheel puts the wheel in its truing stand onto the bench.
func buildWheel(b *builder, m *materialSet) {
	f := frame{o: wheelAt, y: wheelAxle, x: wheelAside}
	f.z = f.x.cross(f.y)
	const r = wheelRim
	b.begin(f, m.get("rim"))
	b.lathe([][2]float64{
		{r - 0.0135, -0.004}, {r - 0.012, -0.0098}, {r - 0.002, -0.0115}, {r + 0.009, -0.0115}, {r + 0.010, -0.0100}, {r + 0.0085, -0.0085},
		{r + 0.003, -0.0070}, {r + 0.002, 0.0}, {r + 0.003, 0.0070}, {r + 0.0085, 0.0085}, {r + 0.010, 0.0100}, {r + 0.009, 0.0115},
		{r - 0.002, 0.0115}, {r - 0.012, 0.0098}, {r - 0.0135, 0.004}, {r - 0.0135, -0.004},
	}, 160)
	buildSpokes(b, m, f, r)
	b.begin(f, m.get("aluminium"))
	b.lathe([][2]float64{
		{0.0, -0.056}, {0.0045, -0.056}, {0.0045, -0.036}, {0.009, -0.036}, {0.010, -0.031}, {0.0265, -0.0305}, {0.0275, -0.029},
		{0.0265, -0.0275}, {0.013, -0.026}, {0.0095, -0.012}, {0.0095, 0.012}, {0.013, 0.026}, {0.0265, 0.0275}, {0.0275, 0.029},
		{0.0265, 0.0305}, {0.010, 0.031}, {0.009, 0.036}, {0.0045, 0.036}, {0.0045, 0.056}, {0.0, 0.056},
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

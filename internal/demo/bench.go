package demo

// buildBench makes the bench in front with what stands on it.
func buildBench(b *builder, m *materialSet) {
	for i := range 4 { // planks
		b.begin(at(0.03*float64(i), benchTop-0.021, 0.30+0.157*float64(i)), m.get("bench"))
		b.box(vec{}, 2.9, 0.042, 0.1545, 0.0022)
	}
	buildCard(b, m)
	buildChart(b, m)
	buildWheel(b, m)
	// Small things.
	lie := func(x, z, yaw float64) frame { // on its back on the bench
		f := at(x, benchTop+0.003, z).turn(1, yaw)
		return f.turn(0, -90)
	}
	spanner(b, m, lie(0.045, 0.62, 62), 0.19)
	spanner(b, m, lie(-0.06, 0.36, -38), 0.15)
	screwdriver(b, m, lie(-0.085, 0.60, 118).shift(0, 0, 0.012), "red plastic", 0.21)
	oilCan(b, m, at(0.085, benchTop, 0.29).turn(1, 150))
	kettle(b, m, at(0.70, benchTop, 0.29).turn(1, 165))
	bell(b, m, at(0.575, benchTop, 0.56))
	mug(b, m, at(0.745, benchTop, 0.49).turn(1, 40))
	jar(b, m, at(0.86, benchTop, 0.34), "steel", 0.038, 0.085, 21)
	b.begin(at(0.06, benchTop, 0.42), m.get("steel"))
	b.lathe([][2]float64{{0, 0.001}, {0.042, 0.001}, {0.047, 0.014}, {0.046, 0.014}, {0.041, 0.003}, {0, 0.003}}, 36) // a tray for nipples
	rag(b, m, at(-0.10, benchTop, 0.47))
}

// rag is a crumpled cloth.
func rag(b *builder, m *materialSet, f frame) {
	b.begin(f, m.get("rag"))
	b.nets(func(p vec) float32 {
		h := 0.012 + 0.012*turbulence(p.mul(24), 3) + 0.008*valueNoise(p.mul(13))
		r := sqrt32(p.x*p.x+p.z*p.z*1.9) - 0.062 - 0.020*valueNoise(vec{p.x * 22, 1, p.z * 22})
		return max(0.7*(p.y-h), max(0.8*r, -p.y-0.002))
	}, v3(-0.11, -0.006, -0.09), v3(0.11, 0.05, 0.09), 0.0032)
}

// The grey card and the chart stand on the bench, leaning back a little.
var (
	cardFrame  = at(-0.655, benchTop+0.083, 0.40).turn(1, 16).turn(0, -12)
	chartFrame = at(-0.405, benchTop+0.066, 0.53).turn(1, 10).turn(0, -14)
)

const (
	cardWidth, cardHeight   = 0.125, 0.17
	chartWidth, chartHeight = 0.20, 0.135
)

func buildCard(b *builder, m *materialSet) {
	b.begin(cardFrame, m.get("grey card"))
	b.box(vec{}, cardWidth, cardHeight, 0.002, 0.0003)
	// A block behind holds it up.
	b.begin(cardFrame, m.get("pine"))
	b.box(v3(0, -0.05, -0.025), 0.06, 0.055, 0.045, 0.002)
}

func buildChart(b *builder, m *materialSet) {
	b.begin(chartFrame, m.get("black plastic"))
	b.box(v3(0, 0, -0.002), chartWidth, chartHeight, 0.003, 0.001)
	for i := range 24 {
		b.begin(chartFrame, m.get("patch"+string(rune('a'+i))))
		c := chartPatch(i)
		h := float32(0.0135)
		b.quad(c.add(vec{-h, -h, 0}), c.add(vec{h, -h, 0}), c.add(vec{h, h, 0}), c.add(vec{-h, h, 0}))
	}
	b.begin(chartFrame, m.get("pine"))
	b.box(v3(0, -0.035, -0.025), 0.07, 0.05, 0.04, 0.002)
}

// chartPatch is the middle of a patch in the chart's frame.
func chartPatch(i int) vec {
	return v3((float64(i%6)-2.5)*0.0315, (1.5-float64(i/6))*0.0315, 0.0002)
}

package demo

// buildBench makes the bench in front with the card and the chart.
func buildBench(b *builder, m *materialSet) {
	b.begin(at(0, benchTop, 0), m.get("pine"))
	b.box(v3(0, -0.022, 0.55), 2.6, 0.044, 0.62, 0.004)
	buildCard(b, m)
	buildChart(b, m)
	buildWheel(b, m)
}

// The grey card and the chart stand on the bench, leaning back a little.
var (
	cardFrame  = at(-0.62, benchTop+0.085, 0.42).turn(1, 14).turn(0, -12)
	chartFrame = at(-0.36, benchTop+0.068, 0.50).turn(1, 8).turn(0, -14)
)

const (
	cardWidth, cardHeight   = 0.125, 0.17
	chartWidth, chartHeight = 0.20, 0.135
)

func buildCard(b *builder, m *materialSet) {
	b.begin(cardFrame, m.get("grey card"))
	b.box(vec{}, cardWidth, cardHeight, 0.002, 0.0003)
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
}

// chartPatch is the middle of a patch in the chart's frame.
func chartPatch(i int) vec {
	return v3((float64(i%6)-2.5)*0.0315, (1.5-float64(i/6))*0.0315, 0.0002)
}

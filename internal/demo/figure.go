package demo

// headFrame is where the head stands and how it's turned.
var headFrame = at(-0.2, 1.645, 0.0).turn(1, 9).turn(0, 3).turn(2, -2)

// buildFigure: the mechanic.
func buildFigure(b *builder, m *materialSet, detail float64) {
	buildHead(b, m, headFrame, detail)
	buildLids(b, m, headFrame)
	buildHair(b, m, headFrame, detail)
	buildBody(b, m, detail)
}

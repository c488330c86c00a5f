package demo

// mark is a named place of the picture, for the truth file and for moving the
// figure: a box in frame pixels (without margin).
type mark struct {
	name       string
	x, y, w, h float32
}

// poseMap says how much each pixel of the moving box goes with the body and
// with the head.
type poseMap struct {
	body, head   []float32 // over moving
	neckX, neckY float32   // the head's pivot, in pixels with margin
	metre        float32   // pixels a metre at the mechanic
}

// place finds where things fall in the picture.
func (s *Studio) place(v *view) {
	m := float32(s.Margin)
	add := func(name string, at vec, w, h float64) {
		x, y, d := v.place(at)
		k := 1 / (d * v.scale)
		pw, ph := float32(w)*k, float32(h)*k
		s.marks = append(s.marks, mark{name, x - m - pw/2, y - m - ph/2, pw, ph})
	}
	add("face-lit", faceLit, 0.035, 0.04)
	add("face-shade", faceShade, 0.03, 0.04)
	add("hair", hairSpot, 0.10, 0.045)
	add("background", backgroundSpot, 0.35, 0.25)
	add("practical", s.lampNamed("tail").face.frame.o, 0.07, 0.07)
	add("card", cardFrame.o, cardWidth*0.7, cardHeight*0.7)
	for i := range 24 {
		add("chart-"+string(rune('a'+i)), chartFrame.point(chartPatch(i)), 0.018, 0.018)
	}

	x, y, d := v.place(neckPivot)
	s.pose.neckX, s.pose.neckY = x, y
	s.pose.metre = 1 / (d * v.scale)
	px := func(metres float32) float32 { return metres * s.pose.metre }
	_, bench, _ := v.place(v3(0, benchTop, 0.2))
	bx := box{int(x - px(0.62)), 0, int(x + px(0.62)), int(bench)}
	bx.x0, bx.x1, bx.y1 = max(0, bx.x0), min(s.w, bx.x1), min(s.h, bx.y1)
	s.moving = bx
	s.inner = box{max(0, bx.x0-8), max(0, bx.y0-8), min(s.w, bx.x1+8), min(s.h, bx.y1+8)}
	s.pose.body = make([]float32, bx.w()*bx.h())
	s.pose.head = make([]float32, bx.w()*bx.h())
	for j := range bx.h() {
		for i := range bx.w() {
			dx := (float32(bx.x0+i) - x) / px(1)
			dy := (float32(bx.y0+j) - y) / px(1) // down
			at := j*bx.w() + i
			s.pose.body[at] = (1 - smooth32(0.10, 0.40, dy)) * (1 - smooth32(0.30, 0.52, abs32(dx)))
			s.pose.head[at] = (1 - smooth32(-0.02, 0.12, dy)) * (1 - smooth32(0.16, 0.30, abs32(dx)))
		}
	}
}

func (s *Studio) lampNamed(name string) *Lamp {
	for i := range s.lamps {
		if s.lamps[i].Name == name {
			return &s.lamps[i]
		}
	}
	panic("demo: no lamp " + name)
}

// Places on the mechanic and in the room that the regions are taken from.
var (
	neckPivot      = v3(-0.2, 1.52, -0.01)
	faceLit        = v3(-0.235, 1.625, 0.09)
	faceShade      = v3(-0.155, 1.625, 0.085)
	hairSpot       = v3(-0.185, 1.75, 0.02)
	backgroundSpot = v3(-0.85, 1.62, -1.7)
)

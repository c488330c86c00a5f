package job

import (
	"fmt"
	"math"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/region"
	"lampwise/internal/unit"
)

// split measures how the picture's light is spread, so that the counter-push
// leaves this picture's mean chroma where it was, and proposes a gentle pair
// where none is.
func (a *adviser) split(g *grade.Grade) (Suggestion, *grade.Grade, error) {
	var out Suggestion
	p := a.now.work.Path
	samples := a.sight.few(samplesMost, func(s *sample) bool { return !s.clipped && !s.lamp })
	var n, sum, square float64
	for _, s := range samples {
		light := p.Curve.Decode(a.lumaBeforeSplit(p, s.y))
		if light < colour.Grey/256 {
			continue // deeper than 8 stops: noise and black
		}
		x := math.Log2(light / colour.Grey)
		n, sum, square = n+1, sum+x, square+x*x
	}
	if n < 100 {
		out.Unknown = true
		out.Reason = "too little of the picture lies above black to say how its light is spread"
		return out, nil, nil
	}
	centre := sum / n
	width := math.Sqrt(math.Max(square/n-centre*centre, 0.01))
	next := g.Split
	next.Spread = [2]float64{math.Round(20*centre) / 20, math.Round(20*math.Max(width, 0.5)) / 20}
	fresh := g.Off(grade.StageSplit) || !p.Runs(grade.StageSplit)
	if fresh {
		next.Shadow, next.Middle, next.High = grade.Push{}, grade.Push{}, grade.Push{Mired: 8}
	}
	if next.Counter == "none" || fresh {
		next.Counter = "shadow"
	}
	g.Split = next
	g.SetOff(grade.StageSplit, false)
	if err := g.Check(); err != nil {
		return out, nil, err
	}
	then, err := a.state(g)
	if err != nil {
		// No counter-push keeps it in place: told, not forced.
		out.Reason = err.Error()
		return out, nil, nil
	}
	shift := func(p *grade.Path) float64 {
		var m [3]float64
		for _, s := range samples {
			without, with := p.BeforeSplit(s.y), p.After(grade.StageSplit, s.y)
			for i := range m {
				m[i] += (with[i] - without[i]) / float64(len(samples))
			}
		}
		return 1023 * math.Hypot(m[0]-m[1], m[2]-m[1])
	}
	before, after := shift(p), shift(then.work.Path)
	report := then.work.Path.Split()
	out.Numbers = []Number{
		number("light's centre", centre, "stops from grey"), number("light's width", width, "stops"),
		number("mean shift of chroma before", before, "10-bit codes of log"), number("mean shift of chroma after", after, "10-bit codes of log"),
		number("card moves by", report.CardDeltaE, "ΔE00"),
	}
	if !fresh && after > before-0.2 {
		out.Reason = fmt.Sprintf("the split moves this picture's mean chroma by %.1f codes only, so it stays", before)
		return out, nil, nil
	}
	words := "the counter-push is solved for this picture's own light, so that its mean chroma stays in place"
	if fresh {
		words = "a gentle warm push above grey with its opposite in the shadows, solved so that this picture's mean chroma stays in place"
	}
	if !report.CardNeutral {
		words += "; the grey card does not stay neutral by it"
	}
	out.Reason = words
	out.Settings = []string{
		setting("split.spread", "[%g, %g]", next.Spread[0], next.Spread[1]), setting("split.counter", "%s", next.Counter),
		setting("split.shadow.mired", "%g", next.Shadow.Mired), setting("split.middle.mired", "%g", next.Middle.Mired), setting("split.high.mired", "%g", next.High.Mired), "split.off=false",
	}
	return out, g, nil
}

func (a *adviser) lumaBeforeSplit(p *grade.Path, y [3]float64) float64 {
	v := p.BeforeSplit(y)
	return 0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2]
}

const (
	lookStep = 0.05
	// Strong looks sit well at 40 to 50 % (common practice, no source).
	lookMost = 0.5
	// By how much a look may raise the risk of banding.
	lookBanding = 0.05
)

// look is the largest strength at which skin and budget hold.
func (a *adviser) look(g *grade.Grade) (Suggestion, *grade.Grade, error) {
	var out Suggestion
	if g.Look.LUT == "" {
		out.Reason = "the grade names no look"
		return out, nil, nil
	}
	was := g.Look.Strength
	if g.Off(grade.StageLook) {
		was = 0
	}
	skin := a.sight.few(2000, func(s *sample) bool { return s.face && !s.clipped && !s.lamp })
	const fewest = 30
	if len(skin) < fewest {
		out.Unknown = true
		out.Reason = a.sight.noFace() + ", so there is no skin to judge the look by; draw one with --region face-lit=x,y,w,h. Strong looks sit well at 40 to 50 % (common practice)"
		return out, nil, nil
	}
	at := func(k float64) (hue, chroma, de, risk float64, err error) {
		try := *g
		try.Look.Strength = k
		try.SetOff(grade.StageLook, k == 0)
		st, err := a.state(&try)
		if err != nil {
			return 0, 0, 0, 0, err
		}
		bare := try
		bare.SetOff(grade.StageLook, true)
		plain, err := a.state(&bare)
		if err != nil {
			return 0, 0, 0, 0, err
		}
		hue, chroma = skinHue(st.work.Path, skin)
		de = meanDifference(st.work.Path, plain.work.Path, skin)
		b, err := a.sight.budget(st, 0, 0)
		return hue, chroma, de, b.Risk.Rendered, err
	}
	bare, _, _, risk0, err := at(0)
	if err != nil {
		return out, nil, err
	}
	tolerance := math.Max(float64(a.request.Skin), math.Abs(turnDegrees(bare-float64(gauge.SkinLine))))
	largest, stop := 0.0, ""
	var hue, de float64
	for k := lookStep; k <= 1+1e-9; k += lookStep {
		h, _, d, risk, err := at(k)
		if err != nil {
			return out, nil, err
		}
		if off := math.Abs(turnDegrees(h - float64(gauge.SkinLine))); off > tolerance+0.05 {
			stop = fmt.Sprintf("at %.0f %% skin would lie %.1f° off the skin line", 100*k, off)
			break
		}
		if risk > risk0+lookBanding {
			stop = fmt.Sprintf("at %.0f %% the risk of banding would rise from %.0f to %.0f %% of the smooth area", 100*k, 100*risk0, 100*risk)
			break
		}
		largest = k
		if k <= lookMost+1e-9 {
			hue, de = h, d
		}
	}
	k := math.Round(100*math.Min(largest, lookMost)) / 100
	out.Numbers = []Number{
		number("largest strength that holds", largest, ""), number("skin hue without the look", bare, "degrees"), number("skin hue with it", hue, "degrees"),
		number("skin line", float64(gauge.SkinLine), "degrees"), number("tolerance", tolerance, "degrees"), number("skin changes by", de, "ΔE00"),
	}
	switch {
	case stop == "":
		out.Reason = fmt.Sprintf("skin stays within %.0f° of the skin line and the budget holds at any strength; strong looks sit well at 40 to 50 %% (common practice)", tolerance)
	case largest > lookMost:
		out.Reason = fmt.Sprintf("%s, so %.0f %% would still hold; strong looks sit well at 40 to 50 %% (common practice)", stop, 100*largest)
	default:
		out.Reason = stop
	}
	if math.Abs(k-was) < lookStep-1e-9 || was > 0 && was <= k && was >= 0.4 {
		out.Reason += fmt.Sprintf("; %.0f %% is well, so it stays", 100*was)
		return out, nil, nil
	}
	g.Look.Strength = k
	g.SetOff(grade.StageLook, k == 0)
	out.Settings = []string{setting("look.strength", "%.2f", k), fmt.Sprintf("look.off=%t", k == 0)}
	return out, g, g.Check()
}

// skinHue is the mean hue on the vectorscope and its distance from the middle.
func skinHue(p *grade.Path, skin []*sample) (hue, chroma float64) {
	var u, v float64
	for _, s := range skin {
		c := p.Exact(s.y)
		a, b := vectorscope(c)
		u, v = u+a/float64(len(skin)), v+b/float64(len(skin))
	}
	return math.Mod(math.Atan2(v, u)*180/math.Pi+360, 360), math.Hypot(u, v)
}

// vectorscope is U, V of a display signal; axes as gauge.SkinLine has them.
func vectorscope(c [3]float64) (u, v float64) {
	r, g, b := colour.MatrixBT601.Weights()
	y := r*c[0] + g*c[1] + b*c[2]
	return 0.492 * (c[2] - y), 0.877 * (c[0] - y)
}

func turnDegrees(d float64) float64 {
	d = math.Mod(d, 360)
	switch {
	case d > 180:
		return d - 360
	case d <= -180:
		return d + 360
	}
	return d
}

func meanDifference(a, b *grade.Path, samples []*sample) float64 {
	sum := 0.0
	step := max(1, len(samples)/200)
	n := 0
	for i := 0; i < len(samples); i += step {
		sum += colour.DeltaE2000(colour.DisplayLab(a.Exact(samples[i].y)), colour.DisplayLab(b.Exact(samples[i].y)))
		n++
	}
	return sum / float64(max(1, n))
}

const (
	vignetteStops  = 0.4
	vignetteFace   = unit.Stop(0.1) // most that the face may lose
	vignetteMargin = 0.15           // half diagonals about the face
)

// noFace says why there is none.
func (s *sight) noFace() string {
	for _, n := range s.out.Notes {
		if strings.HasPrefix(n, region.FaceLit+" was not read, being sure") {
			return "what looks like a face is not sure enough (a note below says where it is)"
		}
	}
	return "no face was found"
}

// vignette sets the darkening's middle and size by the face.
func (a *adviser) vignette(g *grade.Grade) (Suggestion, *grade.Grade, error) {
	var out Suggestion
	if a.sight.face == nil {
		out.Unknown = true
		out.Reason = a.sight.noFace() + "; a vignette about the frame's middle stays as it is"
		return out, nil, nil
	}
	b := a.sight.face.Box
	f := a.sight.format()
	w, h := float64(f.Width), float64(f.Height)
	cx, cy := b.X+b.W/2, b.Y+b.H/2
	next := g.Vignette
	// Part of the way from the frame's middle to the face: about the face alone
	// the far side would go dark.
	const toFace = 0.5
	next.Centre = [2]float64{math.Round(100*(0.5+toFace*(cx-0.5))) / 100, math.Round(100*(0.5+toFace*(cy-0.5))) / 100}
	next.Aspect = math.Round(100*w/h) / 100
	if next.Stops == 0 || g.Off(grade.StageVignette) {
		next.Stops = vignetteStops
	}
	// The inner radius holds the face's box with a margin, in the ellipse's own
	// measure (picture.Vignette); what is left to the furthest corner is the fall-off.
	reach := func(px, py float64) float64 {
		return math.Hypot((px-next.Centre[0])*w/next.Aspect, (py-next.Centre[1])*h) / math.Hypot(w/2/next.Aspect, h/2)
	}
	inner, corner := 0.0, 0.0
	for _, p := range [][2]float64{{b.X, b.Y}, {b.X + b.W, b.Y}, {b.X, b.Y + b.H}, {b.X + b.W, b.Y + b.H}} {
		inner = math.Max(inner, reach(p[0], p[1]))
	}
	for _, p := range [][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
		corner = math.Max(corner, reach(p[0], p[1]))
	}
	next.Inner = math.Round(100*math.Min(inner+vignetteMargin, 1.2)) / 100
	next.Softness = math.Round(100*math.Max(corner-next.Inner, 0.6)) / 100
	g.Vignette = next
	g.SetOff(grade.StageVignette, false)
	if err := g.Check(); err != nil {
		return out, nil, err
	}
	then, err := a.state(g)
	if err != nil {
		return out, nil, err
	}
	loss := func(st *state, x, y float64) float64 {
		v := st.work.Program.Vignette
		if v == nil {
			return 0
		}
		return math.Log2(v.Gain(int(x*(w-1)), int(y*(h-1)), f.Width, f.Height))
	}
	edge := func(st *state) (face, dark float64) {
		for _, p := range [][2]float64{{b.X, b.Y}, {b.X + b.W, b.Y}, {b.X, b.Y + b.H}, {b.X + b.W, b.Y + b.H}, {cx, cy}} {
			face = math.Min(face, loss(st, p[0], p[1]))
		}
		for _, p := range [][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
			dark = math.Min(dark, loss(st, p[0], p[1]))
		}
		return face, dark
	}
	faceBefore, cornerBefore := edge(a.now)
	faceAfter, cornerAfter := edge(then)
	out.Numbers = []Number{
		number("face darkened before", faceBefore, "stops"), number("face darkened after", faceAfter, "stops"),
		number("darkest corner before", cornerBefore, "stops"), number("darkest corner after", cornerAfter, "stops"),
		number("width of the fall-off", next.Softness, "half diagonals"),
	}
	if a.now.work.Path.Runs(grade.StageVignette) && faceBefore > -float64(vignetteFace) {
		out.Reason = fmt.Sprintf("the vignette that is there takes %.2f stop from the face's edge, which nobody sees, so it stays", -faceBefore)
		return out, nil, nil
	}
	if place, ok := a.sight.place(region.FaceLit); ok && place.Confidence < 1 {
		out.Numbers = append(out.Numbers, number("sure of the face", 100*place.Confidence, "per cent"))
	}
	out.Reason = fmt.Sprintf("drawn half-way from the frame's middle to the face, the face's box inside the undarkened part; the fall-off is %.2f half diagonals wide, since a vignette must be soft", next.Softness)
	v := next
	out.Settings = []string{
		setting("vignette.stops", "%g", v.Stops), setting("vignette.centre", "[%g, %g]", v.Centre[0], v.Centre[1]), setting("vignette.aspect", "%g", v.Aspect),
		setting("vignette.inner", "%g", v.Inner), setting("vignette.softness", "%g", v.Softness), "vignette.off=false",
	}
	return out, g, nil
}

package job

import (
	"encoding/json"
	"fmt"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/draw"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// scopeKind says what a picture's codes stand for, for the scales.
type scopeKind struct {
	name   string // of the files
	words  string // in the titles
	rng    colour.Range
	curve  *colour.Curve // nil: the screen's own, or none
	screen bool
	clip   float64 // code of 10 bits; 0: not known
	gamut  *colour.Gamut
	note   string
}

// Scopes are a clip's scopes, drawn: a name and the picture.
type scopePicture struct {
	name  string
	scope *draw.Scope
}

// pictures draws all five.
func (k *scopeKind) pictures(d *gauge.ScopeData) []scopePicture {
	out := []scopePicture{
		{k.name + "waveform", k.waveform(d)},
		{k.name + "parade", k.parade(d)},
		{k.name + "vectorscope", k.vector(d)},
		{k.name + "histogram", k.histogram(d)},
	}
	if d.Chroma != nil {
		out = append(out, scopePicture{k.name + "chromaticity", k.chroma(d)})
	}
	return out
}

const codes10 = 1024.0

// percent are the marks in per cent of the range; code is the place of a signal.
func (k *scopeKind) code(e float64) float64 { return k.rng.LumaToCode(e, 10) }

func (k *scopeKind) percent() draw.Ticks {
	t := draw.Ticks{Title: "%"}
	for p := 0; p <= 100; p += 20 {
		t.At = append(t.At, draw.Tick{At: k.code(float64(p)/100) / codes10, Name: fmt.Sprint(p), Strong: p == 0 || p == 100})
	}
	return t
}

// stops are the marks in stops from grey; none where light is not known.
func (k *scopeKind) stops() draw.Ticks {
	t := draw.Ticks{Title: "stops"}
	if k.curve == nil && !k.screen {
		return draw.Ticks{}
	}
	last := math.Inf(1)
	for s := 10; s >= -10; s-- {
		at := k.codeOf(unit.Stop(s)) / codes10
		const apart = 0.045 // of the scale, so that names don't touch
		if at < 0.03 || at > 1 || last-at < apart {
			continue
		}
		name := fmt.Sprintf("%+d", s)
		if s == 0 {
			name = "grey"
		}
		last = at
		t.At = append(t.At, draw.Tick{At: at, Name: name, Strong: s == 0})
	}
	return t
}

// codeOf is the code of so many stops from grey.
func (k *scopeKind) codeOf(s unit.Stop) float64 {
	if k.screen {
		// From where grey lands, as everywhere else.
		return k.code(grade.GreySignal * math.Exp2(float64(s)/2.4))
	}
	light := colour.Grey * math.Exp2(float64(s))
	slope, offset := k.curve.SignalFromE(k.rng)
	return k.code((k.curve.Encode(light) - offset) / slope)
}

func codeTicks() draw.Ticks {
	t := draw.Ticks{Title: "code"}
	for _, c := range []int{0, 64, 256, 512, 768, 940, 1023} {
		t.At = append(t.At, draw.Tick{At: float64(c) / codes10, Name: fmt.Sprint(c)})
	}
	return t
}

func across() draw.Ticks {
	return draw.Ticks{Title: "across the picture", At: []draw.Tick{{At: 0, Name: "left"}, {At: 0.5, Name: "middle"}, {At: 1, Name: "right"}}}
}

// clipLine is where the recording clips.
func (k *scopeKind) clipLine() ([]draw.Stroke, []draw.Label) {
	if k.clip <= 0 {
		return nil, nil
	}
	at := k.clip / codes10
	return []draw.Stroke{{X0: 0, Y0: at, X1: 1, Y1: at, Width: 1.5, Dashed: true}}, []draw.Label{{X: 0.99, Y: at + 0.015, At: draw.End, Text: "clip"}}
}

func panelOf(name string, g gauge.Grid, c *color.RGBA) draw.Panel {
	p := draw.Panel{Name: name, W: gauge.ScopeSide, H: gauge.ScopeSide, Count: g}
	if c != nil {
		p.Colour = func(float64, float64) color.RGBA { return *c }
	}
	return p
}

func (k *scopeKind) waveform(d *gauge.ScopeData) *draw.Scope {
	p := panelOf("luma", d.Luma, nil)
	p.Lines, p.Names = k.clipLine()
	return &draw.Scope{Title: "Waveform, " + k.words, Note: k.note, Panels: []draw.Panel{p}, Left: codeTicks(), Inner: k.percent(), Right: k.stops(), Bottom: across()}
}

// Our own tints of red, green and blue: told apart in lightness, too.
var channelTint = [3]color.RGBA{{0xf0, 0x9a, 0x84, 0xff}, {0xb8, 0xe0, 0xa0, 0xff}, {0x9c, 0xb4, 0xf0, 0xff}}

func (k *scopeKind) parade(d *gauge.ScopeData) *draw.Scope {
	s := &draw.Scope{Title: "Parade, " + k.words, Note: k.note, Left: codeTicks(), Inner: k.percent(), Right: k.stops()}
	for i, g := range []gauge.Grid{d.R, d.G, d.B} {
		p := panelOf([]string{"red", "green", "blue"}[i], g, &channelTint[i])
		p.Lines, _ = k.clipLine()
		s.Panels = append(s.Panels, p)
	}
	s.Bottom = draw.Ticks{Title: "each across the picture"}
	return s
}

func (k *scopeKind) histogram(d *gauge.ScopeData) *draw.Scope {
	grey := color.RGBA{0xb0, 0xb0, 0xb0, 0xff}
	p := draw.Panel{Name: "", W: gauge.ScopeSide, H: 1, Count: d.Luma.Histogram(), Bars: true, Colour: func(float64, float64) color.RGBA { return grey }}
	channels := [3][]uint32{d.R.Histogram(), d.G.Histogram(), d.B.Histogram()}
	most := float64(max(1, slices.Max(p.Count)))
	for _, h := range channels {
		most = math.Max(most, float64(slices.Max(h)))
	}
	p.Most = uint32(most)
	for i, h := range channels {
		for x := 1; x < len(h); x++ {
			a, b := draw.BarsTop*math.Sqrt(float64(h[x-1])/most), draw.BarsTop*math.Sqrt(float64(h[x])/most)
			if a == 0 && b == 0 {
				continue
			}
			p.Lines = append(p.Lines, draw.Stroke{X0: (float64(x) - 0.5) / gauge.ScopeSide, Y0: math.Min(a, 1), X1: (float64(x) + 0.5) / gauge.ScopeSide, Y1: math.Min(b, 1), Width: 1.8, Colour: &channelTint[i]})
		}
		y := 0.86 - 0.06*float64(i)
		p.Lines = append(p.Lines, draw.Stroke{X0: 0.9, Y0: y + 0.012, X1: 0.94, Y1: y + 0.012, Width: 3, Colour: &channelTint[i]})
		p.Names = append(p.Names, draw.Label{X: 0.955, Y: y, At: draw.Start, Text: []string{"R", "G", "B"}[i]})
	}
	stops := k.stops()
	for _, t := range stops.At {
		p.Lines = append(p.Lines, draw.Stroke{X0: t.At, Y0: 0, X1: t.At, Y1: 1, Width: 0.7, Faint: true})
	}
	bottom := k.percent()
	bottom.Title = "per cent of the range"
	return &draw.Scope{
		Title: "Histogram, " + k.words, Note: "share of the samples on each 4 codes, by square root; luma grey, R G B as lines",
		Panels: []draw.Panel{p}, Inner: shares(most / math.Max(1, float64(d.Samples))), Bottom: bottom, Top: stops,
	}
}

// shares are the marks of a histogram whose highest bar holds the part given.
func shares(most float64) draw.Ticks {
	t := draw.Ticks{Title: "% each"}
	const apart = 0.07 // so that names don't touch
	last := 0.0
	for _, p := range []float64{0, 0.01, 0.03, 0.1, 0.3, 1, 3, 10, 30, 100} {
		at := draw.BarsTop * math.Sqrt(p/100/most)
		if at > draw.BarsTop || p > 0 && at < last+apart {
			continue
		}
		last = at
		t.At = append(t.At, draw.Tick{At: at, Name: fmt.Sprintf("%g", p)})
	}
	return t
}

// inVector brings U and V to places in the plot.
func inVector(v float64) float64 { return (v + gauge.ScopeChroma) / (2 * gauge.ScopeChroma) }

func (k *scopeKind) vector(d *gauge.ScopeData) *draw.Scope {
	p := draw.Panel{W: gauge.ScopeSide, H: gauge.ScopeSide, Count: d.Vector, Colour: vectorColour}
	line := func(x0, y0, x1, y1, w float64, dashed, faint bool) {
		p.Lines = append(p.Lines, draw.Stroke{X0: inVector(x0), Y0: inVector(y0), X1: inVector(x1), Y1: inVector(y1), Width: w, Dashed: dashed, Faint: faint})
	}
	line(-gauge.ScopeChroma, 0, gauge.ScopeChroma, 0, 1, false, true)
	line(0, -gauge.ScopeChroma, 0, gauge.ScopeChroma, 1, false, true)
	for _, r := range []float64{0.2, 0.4, 0.6} {
		const sides = 72
		for i := range sides {
			a, b := 2*math.Pi*float64(i)/sides, 2*math.Pi*float64(i+1)/sides
			line(r*math.Cos(a), r*math.Sin(a), r*math.Cos(b), r*math.Sin(b), 0.8, false, true)
		}
	}
	skin := float64(gauge.SkinLine) * math.Pi / 180
	line(0, 0, 0.62*math.Cos(skin), 0.62*math.Sin(skin), 2, true, false)
	p.Names = append(p.Names, draw.Label{X: inVector(0.62*math.Cos(skin)) - 0.01, Y: inVector(0.62*math.Sin(skin)) - 0.01, At: draw.End, Text: fmt.Sprintf("skin, %.0f°", float64(gauge.SkinLine))})
	// Where bars of 75 % lie in BT.709.
	for _, b := range []struct {
		name    string
		r, g, b float64
	}{{"red", 0.75, 0, 0}, {"yellow", 0.75, 0.75, 0}, {"green", 0, 0.75, 0}, {"cyan", 0, 0.75, 0.75}, {"blue", 0, 0, 0.75}, {"magenta", 0.75, 0, 0.75}} {
		c := colour.MatrixBT709.FromRGB().Apply([3]float64{b.r, b.g, b.b})
		u, v := gauge.ScopeUVOf(c[1], c[2])
		const half = 0.018
		line(u-half, v, u+half, v, 1.5, false, false)
		line(u, v-half, u, v+half, 1.5, false, false)
		p.Names = append(p.Names, draw.Label{X: inVector(u), Y: inVector(v) + 0.03, At: draw.Middle, Text: b.name})
	}
	axis := func(title string) draw.Ticks {
		t := draw.Ticks{Title: title}
		for _, v := range []float64{-0.6, -0.4, -0.2, 0, 0.2, 0.4, 0.6} {
			name := fmt.Sprintf("%+.1f", v)
			if v == 0 {
				name = "0"
			}
			t.At = append(t.At, draw.Tick{At: inVector(v), Name: name})
		}
		return t
	}
	return &draw.Scope{
		Title: "Vectorscope, " + k.words, Note: "U = 0.492 (B′−Y′), V = 0.877 (R′−Y′); crosses: bars of 75 %; rings each 0.2", Square: true,
		Panels: []draw.Panel{p}, Inner: axis("V"), Bottom: axis("U"),
	}
}

// vectorColour is about the colour that lies at a place of the vectorscope.
func vectorColour(x, y float64) color.RGBA {
	u, v := (2*x-1)*gauge.ScopeChroma, (2*y-1)*gauge.ScopeChroma
	kr, kg, kb := colour.MatrixBT601.Weights()
	const luma = 0.72
	r, b := luma+v/0.877, luma+u/0.492
	g := (luma - kr*r - kb*b) / kg
	return signalColour(r, g, b)
}

func signalColour(r, g, b float64) color.RGBA {
	k := func(v float64) uint8 { return uint8(math.Round(255 * math.Min(1, math.Max(0, v)))) }
	return color.RGBA{k(r), k(g), k(b), 0xff}
}

func (k *scopeKind) chroma(d *gauge.ScopeData) *draw.Scope {
	p := draw.Panel{W: gauge.ScopeSide, H: gauge.ScopeSide, Count: d.Chroma, Colour: chromaColour}
	place := func(c colour.XY) (x, y float64) {
		den := -2*c.X + 12*c.Y + 3
		return 4 * c.X / den / gauge.ScopeUV, 9 * c.Y / den / gauge.ScopeUV
	}
	line := func(a, b colour.XY, w float64, dashed, faint bool) {
		x0, y0 := place(a)
		x1, y1 := place(b)
		p.Lines = append(p.Lines, draw.Stroke{X0: x0, Y0: y0, X1: x1, Y1: y1, Width: w, Dashed: dashed, Faint: faint})
	}
	name := func(c colour.XY, dx, dy float64, at draw.Anchor, text string) {
		x, y := place(c)
		p.Names = append(p.Names, draw.Label{X: x + dx, Y: y + dy, At: at, Text: text})
	}
	// The spectral locus closes what colours there are.
	const from, to = 390, 700 // nm
	spectral := func(nm int) colour.XY { return colour.Observer(unit.Nanometre(nm)).XY() }
	for nm := from; nm < to; nm += 5 {
		line(spectral(nm), spectral(nm+5), 1.2, false, true)
	}
	line(spectral(to), spectral(from), 1.2, false, true)
	for _, g := range []struct {
		gamut  *colour.Gamut
		name   string
		dashed bool
	}{{colour.MustGamut("bt709"), "BT.709", false}, {k.gamut, "camera", true}} {
		if g.gamut == nil || g.dashed && g.gamut.ID == "bt709" {
			continue
		}
		line(g.gamut.R, g.gamut.G, 1.2, g.dashed, false)
		line(g.gamut.G, g.gamut.B, 1.2, g.dashed, false)
		line(g.gamut.B, g.gamut.R, 1.2, g.dashed, false)
		name(g.gamut.R, 0.01, -0.02, draw.Start, g.name)
	}
	kelvins := []unit.Kelvin{2000, 2700, 4000, 6500, 12000}
	for t := unit.Kelvin(1600); t < 20000; t *= 1.1 {
		line(colour.XYFromCCT(t, 0), colour.XYFromCCT(t*1.1, 0), 1.6, false, false)
	}
	for _, t := range kelvins {
		line(colour.XYFromCCT(t, 0.012), colour.XYFromCCT(t, -0.012), 1.2, false, false)
		dx := 0.008
		if t < 2500 {
			dx = 0.05 // beside the next one's name
		}
		name(colour.XYFromCCT(t, -0.016), dx, -0.034, draw.Start, fmt.Sprintf("%.0f K", float64(t)))
	}
	axis := func(title string) draw.Ticks {
		t := draw.Ticks{Title: title}
		for v := 0.0; v < gauge.ScopeUV; v += 0.1 {
			t.At = append(t.At, draw.Tick{At: v / gauge.ScopeUV, Name: fmt.Sprintf("%.1f", v)})
		}
		return t
	}
	return &draw.Scope{
		Title: "Chromaticity, " + k.words, Note: "CIE 1976 u′, v′ as recorded: the camera’s white balance is in it", Square: true,
		Panels: []draw.Panel{p}, Inner: axis("v′"), Bottom: axis("u′"),
	}
}

// chromaColour is the colour of a chromaticity as far as a screen can show it.
func chromaColour(x, y float64) color.RGBA {
	u, v := x*gauge.ScopeUV, y*gauge.ScopeUV
	den := 6*u - 16*v + 12
	c := colour.MustGamut("bt709").FromXYZ().Apply(colour.XY{X: 9 * u / den, Y: 4 * v / den}.XYZ())
	top := math.Max(c[0], math.Max(c[1], c[2]))
	if !(top > 0) {
		return draw.Ink
	}
	const floor = 0.05 // so that saturated colours stay lighter than the bed
	g := func(v float64) float64 { return math.Pow(math.Max(floor, v/top), 1/2.4) }
	return signalColour(g(c[0]), g(c[1]), g(c[2]))
}

// scopeFiles writes the scopes of the clip, and of the screen where a grade is
// known: pictures of 600 pixels and their numbers.
func (j *measuring) scopeFiles(folder string, looks []*picture.Frame) ([]string, error) {
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return nil, fault.Wrap(err, fault.Storage, "folder", "Choose a folder that can be written to.", "%s: %v", folder, err)
	}
	note := fmt.Sprintf("%s, %d frames", filepath.Base(j.request.Clip), j.out.Found.Scopes.Frames)
	words := "as recorded"
	if j.camera.Curve != nil {
		words += ", " + j.camera.Curve.ID
	}
	kind := scopeKind{words: words, rng: j.format().Range, curve: j.camera.Curve, clip: j.camera.ClipCode, gamut: j.camera.Gamut, note: note}
	data := map[string]*gauge.ScopeData{"recorded": j.out.Found.Scopes}
	pictures := kind.pictures(j.out.Found.Scopes)
	if j.work != nil {
		screen := scopeKind{name: "screen-", words: "on the screen", rng: colour.Narrow, screen: true, note: note + " through the grade"}
		data["screen"] = j.screenScopes(looks)
		pictures = append(pictures, screen.pictures(data["screen"])...)
	}
	var files []string
	for _, p := range pictures {
		w, h := p.scope.Size()
		r, err := draw.NewRaster(int(w), int(h))
		if err != nil {
			return nil, err
		}
		p.scope.Draw(r)
		b, err := r.PNG()
		if err != nil {
			return nil, err
		}
		file := filepath.Join(folder, p.name+".png")
		if err := writeFile(file, true, b); err != nil {
			return nil, err
		}
		files = append(files, file)
	}
	b, err := json.Marshal(data)
	if err != nil {
		return nil, fmt.Errorf("scopes: %w", err)
	}
	file := filepath.Join(folder, "scopes.json")
	return append(files, file), writeFile(file, true, b)
}

// screenScopes counts what the grade shows of the frames that were looked at.
func (j *measuring) screenScopes(looks []*picture.Frame) *gauge.ScopeData {
	s := gauge.NewScopes(gauge.Camera{})
	for _, f := range looks {
		at := exactFrame(j.work.Path, j.work.Program, f)
		const wide = 480
		step := max(1, f.Width/wide)
		w, h := f.Width/step, f.Height/step
		px := make([][3]float64, w*h)
		parallel(h, func(y int) {
			for x := range w {
				px[y*w+x] = at(x*step, y*step)
			}
		})
		format := picture.Format{Width: w, Height: h, Bits: 10, Sub: picture.Sub444, Range: colour.Narrow, Matrix: colour.MatrixBT709}
		s.AddColours(format, w, h, func(x, y int) [3]float64 { return px[y*w+x] })
	}
	return s.Result()
}

package gauge

import (
	"math"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// Reading is what a region reads over the frames that were looked at. What
// isn't known is nil, and Notes say why.
type Reading struct {
	Region string `json:"region"`
	Frames int    `json:"frames"`
	// Signal is the mean luma, in per cent of the frames' range.
	Signal float64 `json:"signal"`
	// Stops is the mean luminance from grey; SE its standard error from the
	// frames' own scatter, 0 for a single frame.
	Stops *unit.Stop `json:"stops"`
	SE    unit.Stop  `json:"se"`
	// Low and High are the stops that 10 % of the region's samples lie below
	// and above, Spread half of what lies between the 16th and 84th per cent:
	// for an even patch the standard deviation.
	Low    *unit.Stop `json:"low"`
	High   *unit.Stop `json:"high"`
	Spread *unit.Stop `json:"spread"`
	// Linear is the mean scene-linear camera RGB, 0.18 = grey.
	Linear *[3]float64 `json:"linear"`
	// XY is the recorded chromaticity: the camera's white balance is in it.
	XY *colour.XY `json:"xy"`
	// CCT and Duv are of the light on the set, given only when the camera's
	// white is known and the colour lies near enough to the black-body locus.
	CCT *unit.Kelvin `json:"cct"`
	Duv *float64     `json:"duv"`
	// Hue (CIELUV-like angle about the recording's white, degrees) and Purity
	// (0 at the white, 1 on the gamut's edge) are given instead when it does not.
	Hue    *float64 `json:"hue,omitempty"`
	Purity *float64 `json:"purity,omitempty"`
	// Clipped is the part of the region (0..1) in which a channel reaches the
	// recording's clip; nil when that isn't known. Under is the part that is
	// no lighter than no light.
	Clipped *float64 `json:"clipped"`
	Under   *float64 `json:"under"`
	// Over is Stops over time.
	Over  []Moment `json:"over,omitempty"`
	Notes []string `json:"notes,omitempty"`
}

// Readings reads regions over the frames of a clip.
type Readings struct {
	cam     Camera
	regions []*regionSum
	light   *light
	e       eMatrix
	clip    float64
	format  picture.Format
}

type regionSum struct {
	Region
	frames, samples     int
	luma                float64
	rgb                 [3]float64
	clipped, under      int
	byStops             [stopBins]int // luminance
	dark                int           // at or below no light
	meanSum, meanSquare float64       // of the frames' mean luminance
	over                *series
}

const (
	regionSamples = 4096 // about so many pixels of a region are read in a frame
	stopBins      = 512
	stopsFrom     = -16.0
	stopsTo       = 12.0
	readingBins   = 512
	// clipMargin is how far below the clip, in 10-bit codes, a channel counts
	// as clipped: a codec's error. Common practice, no source.
	clipMargin = 3.0 / 876
)

// NewReadings makes a reader of regions.
func NewReadings(cam Camera, regions []Region) *Readings {
	r := &Readings{cam: cam}
	for _, g := range regions {
		r.regions = append(r.regions, &regionSum{Region: g, over: newSeries(1, readingBins)})
	}
	return r
}

// Add reads a frame.
func (r *Readings) Add(v *View) {
	if r.format != v.Format {
		r.format, r.e, r.clip = v.Format, codeToE(v.Format), r.cam.clipE(v.Format)-clipMargin
		if r.cam.Curve != nil {
			r.light = newLight(r.cam.Curve, v.Range)
		}
	}
	for _, g := range r.regions {
		g.add(r, v)
	}
}

func (g *regionSum) add(r *Readings, v *View) {
	x0, y0, x1, y1 := g.Box.Pixels(v.Width, v.Height)
	step := max(1, int(math.Sqrt(float64((x1-x0)*(y1-y0))/regionSamples)))
	w := lumWeights(r.cam)
	before, sum := g.samples, 0.0
	f := v.Frame
	cw, _ := f.ChromaSize()
	g.points(v.Width, v.Height, step, func(x, y int) {
		cx, cy := x, y
		if f.Sub != picture.Sub444 {
			cx /= 2
		}
		if f.Sub == picture.Sub420 {
			cy /= 2
		}
		c := cy*cw + cx
		code := f.Y[y*f.Width+x]
		er, eg, eb := r.e.rgb(code, f.Cb[c], f.Cr[c])
		g.luma += float64(r.e.luma(float32(code)))
		g.samples++
		if float64(max(er, eg, eb)) >= r.clip {
			g.clipped++
		}
		if r.light == nil {
			return
		}
		lin := [3]float64{float64(r.light.at(er)), float64(r.light.at(eg)), float64(r.light.at(eb))}
		lum := w[0]*lin[0] + w[1]*lin[1] + w[2]*lin[2]
		for i := range lin {
			g.rgb[i] += lin[i]
		}
		sum += lum
		s, ok := stops(lum)
		if !ok {
			g.under++
			g.dark++
			return
		}
		g.byStops[min(max(int((float64(s)-stopsFrom)*stopBins/(stopsTo-stopsFrom)), 0), stopBins-1)]++
	})
	g.frames++
	mean := sum / float64(g.samples-before)
	g.meanSum += mean
	g.meanSquare += mean * mean
	if s, ok := stops(mean); ok {
		g.over.add(v.Time, float64(s))
	} else {
		g.over.add(v.Time, math.NaN())
	}
}

// lumWeights are the weights of luminance of camera RGB; without a gamut those
// of BT.709's luma, which is all that can be said then.
func lumWeights(c Camera) [3]float64 {
	if c.Gamut == nil {
		r, g, b := colour.MatrixBT709.Weights()
		return [3]float64{r, g, b}
	}
	r, g, b := c.Gamut.LuminanceWeights()
	return [3]float64{r, g, b}
}

// Result gives the readings in the order the regions were given.
func (r *Readings) Result() []Reading {
	var out []Reading
	for _, g := range r.regions {
		out = append(out, g.result(r))
	}
	return out
}

func (g *regionSum) result(r *Readings) Reading {
	out := Reading{Region: g.Name, Frames: g.frames}
	if g.frames == 0 {
		out.Notes = append(out.Notes, "no frame was read")
		return out
	}
	n := float64(g.samples)
	out.Signal = 100 * g.luma / n
	if r.cam.ClipCode > 0 {
		out.Clipped = ptr(float64(g.clipped) / n)
	} else {
		out.Notes = append(out.Notes, "where the recording clips isn't known, so no clipped part is given")
	}
	if r.light == nil {
		out.Notes = append(out.Notes, "the camera's curve isn't known, so there are no stops")
		return out
	}
	out.Under = ptr(float64(g.under) / n)
	lin := [3]float64{g.rgb[0] / n, g.rgb[1] / n, g.rgb[2] / n}
	out.Linear = &lin
	mean := g.meanSum / float64(g.frames)
	s, ok := stops(mean)
	if !ok {
		out.Notes = append(out.Notes, "no light is recorded here: nothing to place on the ladder")
		return out
	}
	out.Stops = &s
	if g.frames > 1 {
		v := max(0, g.meanSquare/float64(g.frames)-mean*mean) * float64(g.frames) / float64(g.frames-1)
		out.SE = unit.Stop(math.Sqrt(v/float64(g.frames)) / mean / math.Ln2)
	}
	out.Low, out.High = g.quantile(0.1), g.quantile(0.9)
	if lo, hi := g.quantile(0.16), g.quantile(0.84); lo != nil && hi != nil {
		out.Spread = ptr((*hi - *lo) / 2)
	}
	if over := g.over.moments(0); len(over) > 1 {
		out.Over = over
	}
	g.chromaticity(r, lin, &out)
	return out
}

// clippedColour is the part of a region that may be clipped before its colour
// means nothing any more (common practice, no source).
const clippedColour = 0.05

func (g *regionSum) chromaticity(r *Readings, lin [3]float64, out *Reading) {
	if r.cam.Gamut == nil {
		out.Notes = append(out.Notes, "the camera’s primaries are not known, so there is no chromaticity")
		return
	}
	if out.Clipped != nil && *out.Clipped > clippedColour {
		out.Notes = append(out.Notes, "too much of the region is clipped to read its colour")
		return
	}
	xyz := colour.XYZ(r.cam.Gamut.ToXYZ().Apply(lin))
	sum := xyz[0] + xyz[1] + xyz[2]
	if !(xyz[1] > 0) || !(sum > 0) || !(xyz[0] >= 0) || !(xyz[2] >= 0) {
		out.Notes = append(out.Notes, "the recorded colour lies outside real colours, so there is no chromaticity")
		return
	}
	xy := xyz.XY()
	out.XY = &xy
	if r.cam.White == nil {
		out.Notes = append(out.Notes, "the camera's white balance isn't known, so there is no colour temperature; gaps between lamps are still told")
		return
	}
	set := colour.XYZ(colour.Adapt(r.cam.Gamut.W, *r.cam.White, colour.CAT16).Apply(xyz))
	if k, duv, err := colour.CCT(set.XY()); err == nil {
		out.CCT, out.Duv = &k, &duv
		return
	}
	hue, purity := huePurity(xy, r.cam.Gamut)
	out.Hue, out.Purity = &hue, &purity
	out.Notes = append(out.Notes, "the colour is too far from any black body for a colour temperature; its hue and purity are given")
}

// huePurity is the angle of a chromaticity about the gamut's white in CIE 1976
// u′v′, in degrees from the u′ axis, and how far it lies on the way from the
// white to the gamut's edge.
func huePurity(c colour.XY, g *colour.Gamut) (hue, purity float64) {
	w, p := uv76(g.W), uv76(c)
	d := [2]float64{p[0] - w[0], p[1] - w[1]}
	hue = math.Mod(math.Atan2(d[1], d[0])*180/math.Pi+360, 360)
	corners := [3][2]float64{uv76(g.R), uv76(g.G), uv76(g.B)}
	edge := math.Inf(1)
	for i, a := range corners {
		b := corners[(i+1)%3]
		// white + t·d meets a + s·(b − a)
		ex, ey := b[0]-a[0], b[1]-a[1]
		det := ex*d[1] - ey*d[0]
		if det == 0 {
			continue
		}
		t := (ex*(a[1]-w[1]) - ey*(a[0]-w[0])) / det
		if t > 0 {
			edge = min(edge, t)
		}
	}
	if math.IsInf(edge, 0) {
		return hue, 0
	}
	return hue, 1 / edge
}

// uv76 is CIE 1976 u′, v′ (CIE 15).
func uv76(c colour.XY) [2]float64 {
	d := -2*c.X + 12*c.Y + 3
	return [2]float64{4 * c.X / d, 9 * c.Y / d}
}

// quantile is the stops that part q of the samples lie below; nil where that
// falls among samples without light.
func (g *regionSum) quantile(q float64) *unit.Stop {
	want := q * float64(g.samples)
	n := float64(g.dark)
	if want < n {
		return nil
	}
	for i, c := range g.byStops {
		if c > 0 && n+float64(c) >= want {
			at := float64(i) + (want-n)/float64(c)
			return ptr(unit.Stop(stopsFrom + at*(stopsTo-stopsFrom)/stopBins))
		}
		n += float64(c)
	}
	return nil
}

func ptr[T any](v T) *T { return &v }

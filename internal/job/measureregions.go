package job

import (
	"fmt"
	"math"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/picture"
	"lampwise/internal/region"
	"lampwise/internal/unit"
)

// regions are those a person drew, then what is found in this clip, then the
// set's; what none of them names isn't read.
func (j *measuring) regions(looks []*picture.Frame) error {
	if j.camera.ClipCode == 0 {
		var finder gauge.ClipFinder
		for _, f := range looks {
			finder.Add(f)
		}
		if c := finder.Find(); c.Found {
			j.camera.ClipCode = c.Code
		}
	}
	have := map[string]bool{}
	take := func(g region.Region) {
		if have[g.Name] {
			return
		}
		have[g.Name] = true
		j.out.Regions = append(j.out.Regions, g)
		j.found = append(j.found, gaugeRegion(g))
	}
	for _, g := range j.request.Regions {
		if err := g.Check(); err != nil {
			return err
		}
		take(g)
	}
	frames, clip := j.workingPictures(looks)
	found, err := region.FindOver(region.Scene{Picture: frames[len(frames)/2], Clip: clip}, frames)
	if err != nil {
		return fmt.Errorf("find regions: %w", err)
	}
	// The presenter may sit elsewhere than when the set was learned; lamps and
	// walls are where they were.
	for _, g := range found.Regions {
		switch g.Name {
		case region.FaceLit, region.FaceShade, region.Hair, region.Card:
			take(g)
		}
	}
	if j.set != nil {
		for _, g := range j.set.Settings.Regions {
			if g.Name == wholeFrame {
				continue
			}
			x := region.Region{Name: g.Name, Box: region.Box{X: g.X, Y: g.Y, W: g.W, H: g.H}, Confidence: 1, Reason: "the set's"}
			if len(g.Mask) > 0 {
				w, h := maskSize(j.set.Settings.Clip.Width, j.set.Settings.Clip.Height)
				if in, ok := maskOf(g.Mask, w*h); ok {
					x.Mask = &region.Mask{W: w, H: h, In: in}
				}
			}
			take(x)
		}
	}
	for _, g := range found.Regions {
		take(g)
	}
	unread := map[string][]string{} // names by reason: what no face was found for is several
	var reasons []string
	for _, g := range found.Doubts {
		switch {
		case have[g.Name] || g.Reason == "":
		case g.Confidence >= worthAsking && g.Box.W > 0 && g.Box.H > 0:
			if g.Box.W*g.Box.H >= 1 { // the whole frame is no box to take over
				j.out.Notes = append(j.out.Notes, fmt.Sprintf("%s was not read, being sure of it to %.0f %% only (%s): draw it, if it matters", g.Name, 100*g.Confidence, g.Reason))
				break
			}
			j.out.Notes = append(j.out.Notes, fmt.Sprintf("%s was not read, being sure of it to %.0f %% only (%s); if it's right: --region %s=%s", g.Name, 100*g.Confidence, g.Reason, g.Name, perCent(g.Box)))
		default:
			if unread[g.Reason] == nil {
				reasons = append(reasons, g.Reason)
			}
			unread[g.Reason] = append(unread[g.Reason], g.Name)
		}
	}
	for _, why := range reasons {
		was := "was"
		if len(unread[why]) > 1 {
			was = "were"
		}
		j.out.Notes = append(j.out.Notes, fmt.Sprintf("%s %s not read: %s", strings.Join(unread[why], ", "), was, why))
	}
	j.face = faceOf(found, j.found)
	whole := region.Region{Name: wholeFrame, Box: region.Box{W: 1, H: 1}, Confidence: 1}
	take(whole)
	return nil
}

// maskSize is the working picture of a switch clip of w×h, on which a set's masks lie.
func maskSize(w, h int) (int, int) {
	n := max(1, (w+workingWidth-1)/workingWidth)
	return w / n, h / n
}

func gaugeRegion(g region.Region) gauge.Region {
	out := gauge.Region{Name: g.Name, Box: gauge.Box(g.Box), Shape: gauge.Shape(g.Shape)}
	if g.Mask != nil {
		out.Mask = &gauge.Mask{W: g.Mask.W, H: g.Mask.H, In: g.Mask.In}
	}
	return out
}

// faceOf is the whole face: the one that was found, or the box about its sides.
func faceOf(found *region.Found, all []gauge.Region) *gauge.Region {
	if len(found.Faces) > 0 && found.Faces[0].Sure() {
		return &gauge.Region{Name: "face", Box: gauge.Box(found.Faces[0].Box)}
	}
	var x0, y0, x1, y1 float64
	some := false
	for _, g := range all {
		if g.Name != region.FaceLit && g.Name != region.FaceShade {
			continue
		}
		b := g.Box
		if !some {
			x0, y0, x1, y1 = b.X, b.Y, b.X+b.W, b.Y+b.H
		}
		some = true
		x0, y0, x1, y1 = math.Min(x0, b.X), math.Min(y0, b.Y), math.Max(x1, b.X+b.W), math.Max(y1, b.Y+b.H)
	}
	if !some {
		return nil
	}
	return &gauge.Region{Name: "face", Box: gauge.Box{X: x0, Y: y0, W: x1 - x0, H: y1 - y0}}
}

// workingPictures are the frames as scene light where the curve is known, else
// as a display would show them; and the recording's clip in the same.
func (j *measuring) workingPictures(frames []*picture.Frame) (out []*picture.Image, clip float64) {
	f := frames[0].Format
	if j.camera.Curve == nil {
		for _, x := range frames {
			im := x.Image(picture.SpaceDisplay, func(e [3]float64) [3]float64 { return e })
			out = append(out, im.Shrink(min(f.Width, workingWidth), min(f.Height, max(1, f.Height*min(f.Width, workingWidth)/f.Width))))
		}
		return out, 0
	}
	d := Decoding{Curve: j.camera.Curve, Override: j.override}
	if j.camera.ClipCode > 0 {
		clip = d.clipLight(j.camera.ClipCode, f)
	}
	l := newLightDecoder(f, d, workingWidth, 0)
	for _, x := range frames {
		light := l.newLight()
		l.decode(x, light)
		out = append(out, light.Image)
	}
	return out, clip
}

// screenOf reads the regions as the grade shows them, over the frames that
// were looked at beforehand. Its stops are the ladder's: from where grey lands.
func (j *measuring) screenOf(looks []*picture.Frame) map[string]*ScreenReading {
	if j.work == nil {
		return nil
	}
	const most = 600 // pixels of a region in one frame
	out := map[string]*ScreenReading{}
	wr, wg, wb := colour.MatrixBT709.Weights()
	for _, g := range j.out.Regions {
		luma, light, n := 0.0, 0.0, 0
		for _, f := range looks {
			at := exactFrame(j.work.Path, j.work.Program, f)
			px := g.Pixels(f.Width, f.Height)
			step := max(1, len(px)/most)
			for k := 0; k < len(px); k += step {
				v := at(px[k]%f.Width, px[k]/f.Width)
				luma += wr*v[0] + wg*v[1] + wb*v[2]
				light += wr*screenLight(v[0]) + wg*screenLight(v[1]) + wb*screenLight(v[2])
				n++
			}
		}
		s := &ScreenReading{Signal: 100 * luma / float64(n)}
		if stops := unit.Stop(math.Log2(light / float64(n) / screenLight(grade.GreySignal))); !math.IsInf(float64(stops), 0) && !math.IsNaN(float64(stops)) {
			s.Stops = &stops
		}
		out[g.Name] = s
	}
	return out
}

// screenLight is the light of a signal on a BT.1886 display with no black of its
// own, 1 at its white.
func screenLight(v float64) float64 { return math.Pow(math.Max(0, v), 2.4) }

// ParseRegions reads regions a person drew: "name=x,y,w,h" in per cent of the
// picture, or "name=ellipse:x,y,w,h".
func ParseRegions(texts []string) ([]region.Region, error) { return region.ParseAll(texts) }

// ParseRegion reads one.
func ParseRegion(text string) (*region.Region, error) {
	g, err := region.Parse(text)
	return &g, err
}

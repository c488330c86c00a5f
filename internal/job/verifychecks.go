package job

import (
	"context"
	"fmt"
	"math"

	"lampwise/internal/gauge"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/region"
)

// OutputChecks are the checks of a finished file that want no source: docs/json.md, verify.
type OutputChecks struct {
	Levels   gauge.Levels     `json:"levels"` // EBU R 103
	Flashes  gauge.Flashes    `json:"flashes"`
	Black    []gauge.Moment   `json:"black"`
	Still    []gauge.Moment   `json:"still"`
	Skin     *gauge.SkinFound `json:"skin"`     // nil: no face was found
	Loudness []media.Loudness `json:"loudness"` // told, not judged
	problems []gauge.Problem
	notes    []string
}

// outputChecks measures a finished file's frames as they are decoded.
type outputChecks struct {
	viewer gauge.Viewer
	legal  *gauge.Legal
	flash  *gauge.Flash
	black  gauge.Black
	still  gauge.Repeats
	skin   *gauge.Skin
	noFace string // why skin isn't read
}

// newOutputChecks finds the face that skin is read on, where it isn't said.
func newOutputChecks(ctx context.Context, info *media.Info, face *region.Region) (*outputChecks, error) {
	c := &outputChecks{legal: gauge.NewLegal(), flash: gauge.NewFlash(0)}
	if face != nil {
		c.skin = gauge.NewSkin(gaugeRegion(*face))
		return c, nil
	}
	count := info.Video.Frames
	n := min(measureLooks, count)
	var pictures []*picture.Image
	for i := range n {
		frames, err := readFrames(ctx, info.Path, media.ReadOptions{Info: info, Start: (2*i + 1) * count / (2 * n), Count: 1})
		if err != nil {
			return nil, err
		}
		for _, f := range frames {
			im := f.Image(picture.SpaceDisplay, func(e [3]float64) [3]float64 { return e })
			w := min(f.Width, workingWidth)
			pictures = append(pictures, im.Shrink(w, max(1, f.Height*w/f.Width)))
		}
	}
	c.noFace = "no face was found, so skin was not checked"
	if len(pictures) == 0 {
		return c, nil
	}
	if faces := region.FacesOver(pictures); len(faces) > 0 {
		f := faces[0]
		if f.Sure() {
			c.skin = gauge.NewSkin(gauge.Region{Name: "the face", Box: gauge.Box(f.Box), Shape: gauge.ShapeEllipse})
		} else if f.Confidence >= worthAsking {
			c.noFace = fmt.Sprintf("skin was not checked, being sure of the face to %.0f %% only; if it is one: --region face=ellipse:%s", 100*f.Confidence, perCent(f.Box))
		}
	}
	return c, nil
}

// worthAsking is the confidence from which a doubtful face is worth telling.
const worthAsking = 0.3

// perCent writes a box as --region wants it.
func perCent(b region.Box) string {
	return fmt.Sprintf("%.1f,%.1f,%.1f,%.1f", 100*b.X, 100*b.Y, 100*b.W, 100*b.H)
}

func (c *outputChecks) add(f *picture.Frame) {
	v := c.viewer.Look(f)
	c.legal.Add(v)
	c.flash.Add(v)
	c.black.Add(v)
	c.still.Add(v)
	if c.skin != nil {
		c.skin.Add(v)
	}
}

// result tells, and measures the sound.
func (c *outputChecks) result(ctx context.Context, info *media.Info) (*OutputChecks, error) {
	out := &OutputChecks{Levels: c.legal.Result(), Flashes: c.flash.Result(), Black: []gauge.Moment{}, Still: []gauge.Moment{}, Loudness: []media.Loudness{}}
	out.take(out.Levels.Problems, out.Levels.Notes)
	out.take(out.Flashes.Problems, out.Flashes.Notes)
	b := c.black.Result()
	out.Black = append(out.Black, b.Black...)
	for _, p := range b.Problems {
		// A film may open and close from black; that is told, not complained of.
		if edge := p.From <= 0.1 || p.To >= info.Duration-0.1; edge && p.Severity != gauge.Fault {
			p.Severity = gauge.Note
		}
		out.take([]gauge.Problem{p}, nil)
	}
	r := c.still.Result()
	out.Still = append(out.Still, r.Freezes...)
	for _, p := range r.Problems {
		if p.Kind == "freeze" && !during(p, b.Black) {
			out.take([]gauge.Problem{p}, nil)
		}
	}
	if c.skin == nil {
		out.notes = append(out.notes, c.noFace)
	} else {
		s := c.skin.Result()
		out.Skin = &s
		out.take(s.Problems, s.Notes)
	}
	for i := range info.Audio {
		l, err := media.MeasureLoudness(ctx, info, i)
		if err != nil {
			if ctx.Err() != nil {
				return nil, err
			}
			out.notes = append(out.notes, fmt.Sprintf("the loudness of sound %d could not be measured: %v", i+1, err))
			continue
		}
		out.Loudness = append(out.Loudness, *l)
	}
	return out, nil
}

// during says whether a stretch lies in a black one: black stands still, too.
func during(p gauge.Problem, black []gauge.Moment) bool {
	for _, m := range black {
		if p.From >= m.From-0.1 && p.To <= m.To+0.1 {
			return true
		}
	}
	return false
}

func (o *OutputChecks) take(problems []gauge.Problem, notes []string) {
	o.problems = append(o.problems, problems...)
	o.notes = append(o.notes, notes...)
}

// takeChecks adds what the checks found: what is worse than a note is a
// problem of the file, the rest is told.
func (v *Verified) takeChecks(c *OutputChecks) {
	v.Checks = c
	gauge.SortProblems(c.problems)
	for _, p := range c.problems {
		if p.Severity == gauge.Note {
			v.Notes = append(v.Notes, fmt.Sprintf("%s (%.1f to %.1f s): %s", p.What, p.From, p.To, p.Advice))
			continue
		}
		v.Problems = append(v.Problems, Problem{
			Kind: p.Kind, What: p.What, Size: round3(p.Size), Unit: p.Unit, From: p.From, To: p.To, Severity: string(p.Severity), Advice: p.Advice,
		})
	}
	v.Notes = append(v.Notes, c.notes...)
}

// round3 keeps three decimals: more would be the noise of arithmetic.
func round3(x float64) float64 { return math.Round(1000*x) / 1000 }

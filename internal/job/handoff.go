package job

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gonum.org/v1/gonum/optimize"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/picture/lutfile"
)

// HandoffRequest asks for what others need of a grade: the camera's screen, an
// editing program, a person with a printout.
type HandoffRequest struct {
	Grade, Folder string
	Set           string // for the set card; empty: none
	Plan          string // the room's plan, for the set card; empty: none
	Clip          string // for stills and the card's thumbnail; empty: none
	At            string // of the still: timecode, or a time from the clip's start; empty: the first frame
	Overwrite     bool
}

// HandedOff is what was written: docs/json.md, handoff.
type HandedOff struct {
	Folder string       `json:"folder"`
	Files  []HandedFile `json:"files"`
	Notes  []string     `json:"notes"`
}

// HandedFile is one file, what it is for, and what it errs by.
type HandedFile struct {
	File  string            `json:"file"`
	What  string            `json:"what"`
	Error *picture.Measured `json:"error,omitempty"` // against the exact path; nil: none
}

// Sizes of monitoring LUTs: cameras and screens take one or another.
var monitorSizes = []int{17, 33, 65}

// levelsInWords say which convention a LUT's input follows, since reading one
// by the other's is the usual way a monitoring LUT looks wrong.
var levelsInWords = map[colour.Levels]string{
	colour.LevelsData:  "input 0..1 is code 0..1023 (full scale, “data”, “extended”)",
	colour.LevelsVideo: "input 0..1 is code 64..940 (“video”, “legal”)",
}

// Handoff writes the files into a folder.
func Handoff(ctx context.Context, store Sets, r HandoffRequest) (*HandedOff, error) {
	g, err := grade.Load(r.Grade)
	if err != nil {
		return nil, err
	}
	path, err := grade.Build(g, grade.Clip{}, LUTsIn(filepath.Dir(r.Grade)))
	if err != nil {
		return nil, err
	}
	// What the set card needs is looked at before anything is written.
	if r.Plan != "" && r.Set == "" {
		return nil, fault.New(fault.Usage, "handoff-plan", "The plan is drawn on the set card: name the set, too, with --set.", "a plan without a set")
	}
	if r.Set != "" {
		if _, err := store.Set(ctx, r.Set); err != nil {
			return nil, err
		}
	}
	if r.Plan != "" {
		if _, err := PlanFile(PlanRequest{File: r.Plan}); err != nil {
			return nil, err
		}
	}
	if err := os.MkdirAll(r.Folder, 0o755); err != nil {
		return nil, storageFault(r.Folder, err)
	}
	h := &handoff{request: r, out: &HandedOff{Folder: r.Folder, Files: []HandedFile{}, Notes: append([]string{}, path.Notes...)}}
	if path.Runs(grade.StageVignette) {
		h.out.Notes = append(h.out.Notes, "the vignette depends on place: no LUT and no CDL carries it; the still and a rendered file do")
	}
	for _, levels := range []colour.Levels{colour.LevelsData, colour.LevelsVideo} {
		for _, size := range monitorSizes {
			if err := h.lut(path, g, fmt.Sprintf("monitor-%d-%s.cube", size, levels), size, levels, "for a screen: "+levelsInWords[levels]); err != nil {
				return nil, err
			}
		}
	}
	if err := h.lut(path, g, "grade.clf", 65, colour.LevelsData, "for an editing program (Common LUT Format): "+levelsInWords[colour.LevelsData]); err != nil {
		return nil, err
	}
	if err := h.cdl(path, g); err != nil {
		return nil, err
	}
	if r.Clip != "" {
		if err := h.stills(ctx); err != nil {
			return nil, err
		}
	}
	if r.Set != "" {
		if err := h.card(ctx, store, g, path); err != nil {
			return nil, err
		}
	}
	return h.out, nil
}

type handoff struct {
	request HandoffRequest
	out     *HandedOff
}

func (h *handoff) file(name string) string { return filepath.Join(h.request.Folder, name) }

// keep writes one file and lists it.
func (h *handoff) keep(name, what string, data []byte, e *picture.Measured) error {
	if err := writeFile(h.file(name), h.request.Overwrite, data); err != nil {
		return err
	}
	h.out.Files = append(h.out.Files, HandedFile{File: h.file(name), What: what, Error: e})
	return nil
}

func (h *handoff) lut(path *grade.Path, g *grade.Grade, name string, size int, levels colour.Levels, what string) error {
	o := grade.BakeOptions{Size: size, Levels: levels}
	lut, e, err := path.Bake(o)
	if err != nil {
		return err
	}
	comments := append(path.LUTComments(o, e), levelsInWords[levels])
	var b bytes.Buffer
	if strings.HasSuffix(name, ".clf") {
		err = lutfile.WriteCLF(&b, &picture.Chain{Title: g.Name, Description: comments, Ops: []picture.Op{lut}})
	} else {
		err = lutfile.WriteCube(&b, lut, comments)
	}
	if err != nil {
		return err
	}
	return h.keep(name, what, b.Bytes(), &e.Grid)
}

// cdl writes the grade as near as a CDL comes to it, from the recorded signal at
// data levels to the display signal, and tells the error, which is large: ten
// numbers are no conversion curve.
func (h *handoff) cdl(path *grade.Path, g *grade.Grade) error {
	c, e := NearestCDL(path)
	var b bytes.Buffer
	err := lutfile.WriteCDL(&b, lutfile.Correction{
		ID:          "lampwise",
		Description: []string{g.Name, fmt.Sprintf("as near as a CDL comes: ΔE00 %.1f in the mean, %.1f at most over the colours fitted; for a first look only", e.MeanDE, e.MaxDE)},
		Input:       "recorded signal, code/1023", Viewing: "BT.709 display signal, BT.1886", CDL: c,
	})
	if err != nil {
		return err
	}
	return h.keep("grade.cc", "ASC CDL, as near as it goes: a first look for others, not the grade", b.Bytes(), &e)
}

// NearestCDL fits slope, offset, power and saturation to a path, from the code
// of the recording over 1023 to the display signal, by the mean squared
// difference over neutrals from 6 stops under grey to 3 over it and colours of
// moderate purity about them. The error is in ΔE00 over the same.
func NearestCDL(path *grade.Path) (*picture.CDL, picture.Measured) {
	var in, want [][3]float64
	slope, offset := path.Curve.SignalFromE(colour.Narrow)
	for stops := -6.0; stops <= 3; stops += 0.5 {
		light := 0.18 * math.Exp2(stops)
		for _, tint := range [][3]float64{{1, 1, 1}, {1.3, 1, 0.8}, {0.8, 1, 1.3}, {1.3, 0.85, 0.7}, {0.9, 1.15, 0.8}, {0.75, 0.95, 1.4}, {1.25, 0.8, 1.2}} {
			var y, code [3]float64
			for i := range y {
				y[i] = path.Curve.Encode(light * tint[i])
				code[i] = (64 + 876*(y[i]-offset)/slope) / 1023
			}
			v := path.Exact(y)
			for i := range v {
				v[i] = min(1, max(0, v[i]))
			}
			in, want = append(in, code), append(want, v)
		}
	}
	built := func(x []float64) *picture.CDL {
		c := &picture.CDL{Style: picture.CDLFwd, Saturation: math.Exp(x[9])}
		for i := range 3 {
			c.Slope[i], c.Offset[i], c.Power[i] = math.Exp(x[i]), x[3+i], math.Exp(x[6+i])
		}
		return c
	}
	problem := optimize.Problem{Func: func(x []float64) float64 {
		c, sum := built(x), 0.0
		for i, p := range in {
			v := c.Apply(p)
			for ch := range v {
				sum += (v[ch] - want[i][ch]) * (v[ch] - want[i][ch])
			}
		}
		return sum
	}}
	start := []float64{0.7, 0.7, 0.7, -0.4, -0.4, -0.4, 0, 0, 0, 0.3}
	best := start
	// Begun again from where it ended: a simplex that has shrunk early moves on.
	for range 4 {
		r, err := optimize.Minimize(problem, best, &optimize.Settings{FuncEvaluations: 6000}, &optimize.NelderMead{})
		if r == nil || err != nil && r.X == nil {
			break
		}
		best = r.X
	}
	c := built(best)
	m := picture.Measured{Over: "colours", Points: len(in)}
	for i, p := range in {
		de := colour.DeltaE2000(colour.DisplayLab(colour.RGB(c.Apply(p))), colour.DisplayLab(colour.RGB(want[i])))
		m.MaxDE, m.MeanDE = max(m.MaxDE, de), m.MeanDE+de/float64(len(in))
		if i%7 == 0 {
			m.Neutral = max(m.Neutral, 876*math.Abs(c.Apply(p)[1]-want[i][1]))
		}
	}
	return c, m
}

// stills are one frame before and after: as recorded, as scene light, and finished.
func (h *handoff) stills(ctx context.Context) error {
	w, err := Open(ctx, h.request.Clip, h.request.Grade)
	if err != nil {
		return err
	}
	n, notes, err := w.nearest(h.request.At)
	if err != nil {
		return err
	}
	frame, err := w.frame(ctx, n)
	if err != nil {
		return err
	}
	recorded := picture.NewImage(frame.Width, frame.Height, picture.SpaceSignal)
	light := picture.NewImage(frame.Width, frame.Height, picture.SpaceSceneLinear)
	finished := picture.NewImage(frame.Width, frame.Height, picture.SpaceDisplay)
	at := exactFrame(w.Path, w.Program, frame)
	parallel(frame.Height, func(y int) {
		for x := range frame.Width {
			e := frame.RGB(x, y)
			recorded.Set(x, y, e)
			s := w.Program.Input.Signal(e)
			for i := range s {
				s[i] = w.Path.Curve.Decode(s[i])
			}
			light.Set(x, y, s)
			finished.Set(x, y, at(x, y))
		}
	})
	for _, f := range []struct {
		name, what string
		write      func(path string) error
	}{
		{"before.png", "the frame as recorded, 8 bits", func(p string) error { return media.WritePNG(p, recorded, 8) }},
		{"before-16.tif", "the frame as recorded, 16 bits", func(p string) error { return media.WriteTIFF(p, recorded, 16) }},
		{"before-light.exr", "the frame's scene light by the camera curve, camera RGB, 0.18 = grey", func(p string) error { return media.WriteEXR(p, light) }},
		{"after.png", "the finished frame by the exact path, 8 bits", func(p string) error { return media.WritePNG(p, finished, 8) }},
		{"after-16.tif", "the finished frame, 16 bits", func(p string) error { return media.WriteTIFF(p, finished, 16) }},
		{"after.exr", "the finished frame's display signal, floats", func(p string) error { return media.WriteEXR(p, finished) }},
	} {
		path := h.file(f.name)
		if !h.request.Overwrite {
			if err := absent(path); err != nil {
				return err
			}
		}
		if err := f.write(path); err != nil {
			return err
		}
		h.out.Files = append(h.out.Files, HandedFile{File: path, What: f.what})
	}
	for _, n := range append(w.Notes, notes...) {
		if !slices.Contains(h.out.Notes, n) {
			h.out.Notes = append(h.out.Notes, n)
		}
	}
	return nil
}

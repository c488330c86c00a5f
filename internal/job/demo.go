package job

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/demo"
	"lampwise/internal/grade"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// DemoRequest asks for the example and the whole job done on it.
type DemoRequest struct {
	Dir     string  // folder for everything
	Size    int     // height of the frames: 1080, 2160, or smaller for a quick look
	Seconds float64 // scales the clips' lengths; 0 = 1
	Again   bool    // make the example anew even if it stands there
	Threads int
}

// DemoResult says what was made and where it lies.
type DemoResult struct {
	Dir      string        `json:"dir"`
	Switch   string        `json:"switch_clip"`
	Grade    string        `json:"grade"`
	Sheet    string        `json:"contact_sheet"`
	Truth    string        `json:"truth"`
	Lamps    *DemoLamps    `json:"lamps"`
	Plan     *DemoPlan     `json:"plan"`
	Episodes []DemoEpisode `json:"episodes"`
}

// DemoEpisode is one episode clip on its way.
type DemoEpisode struct {
	Clip     string    `json:"clip"`
	File     string    `json:"file"`
	Rendered *Rendered `json:"rendered"`
	Verified *Verified `json:"verified"`
}

// Demo makes the generated example and does the job on it, as a user would by
// the commands: told is called with a line for each step.
func Demo(ctx context.Context, store Sets, r DemoRequest, told func(string), report Progress) (*DemoResult, error) {
	made, err := makeExample(ctx, r, told, report)
	if err != nil {
		return nil, err
	}
	res := &DemoResult{Dir: r.Dir, Switch: made.Switch, Truth: made.Truth, Grade: filepath.Join(r.Dir, "lesson.toml"), Sheet: filepath.Join(r.Dir, "before-after.png")}

	info, err := media.Probe(ctx, made.Episodes[0])
	if err != nil {
		return nil, err
	}
	v := info.Video
	told(fmt.Sprintf("probe: %s is %d×%d, %d bits %s, %.0f frames/s, %s", filepath.Base(made.Episodes[0]), v.Width, v.Height, v.Bits, v.Sub, v.Rate.Float(), Span(secondsOf(info.Duration))))

	g, err := MakeGrade(ctx, store, NewGrade{File: res.Grade, Curve: made.Curve, Clip: made.Episodes[0], Overwrite: true})
	if err != nil {
		return nil, err
	}
	told(fmt.Sprintf("grade: %s, a starting grade for %s with the look at %.0f %%", res.Grade, g.Curve, 100*grade.LookStrength))
	for _, n := range g.Notes {
		told("       " + n)
	}

	if res.Lamps, err = demonstrateLamps(ctx, store, made, r.Dir, told, report); err != nil {
		return nil, err
	}

	if res.Plan, err = demonstratePlan(ctx, store, r.Dir, told); err != nil {
		return nil, err
	}

	sheet := Sheet{Title: "lampwise: the generated example before and after"}
	for i, clip := range made.Episodes {
		e := DemoEpisode{Clip: clip, File: filepath.Join(r.Dir, fmt.Sprintf("episode-%d-finished.mov", i+1))}
		e.Rendered, err = Render(ctx, RenderRequest{Clip: clip, Grade: res.Grade, Out: e.File, Overwrite: true, Threads: r.Threads, Told: func(est Estimate) {
			told(fmt.Sprintf("render: %s will take about %s and about %s", filepath.Base(e.File), Span(secondsOf(est.Seconds)), Size(est.Bytes)))
		}}, report)
		if err != nil {
			return nil, err
		}
		m := e.Rendered.Error
		if m == nil {
			m = &picture.Measured{}
		}
		told(fmt.Sprintf("render: %d frames at %.1f frames/s; against the exact path ΔE00 %.3f at most, %.4f in the mean", e.Rendered.Frames, e.Rendered.Rate, m.MaxDE, m.MeanDE))
		e.Verified, err = Verify(ctx, VerifyRequest{File: e.File, Source: clip, Grade: res.Grade}, report)
		if err != nil {
			return nil, err
		}
		told("verify: " + verdictLine(e.Verified))
		row, err := beforeAfter(ctx, clip, res.Grade, e.File)
		if err != nil {
			return nil, err
		}
		sheet.Rows = append(sheet.Rows, row)
		res.Episodes = append(res.Episodes, e)
	}
	stages, err := stageRows(ctx, made.Episodes[0], res.Grade)
	if err != nil {
		return nil, err
	}
	sheet.Rows = append(sheet.Rows, stages...)
	png, err := sheet.PNG()
	if err != nil {
		return nil, err
	}
	return res, writeFile(res.Sheet, true, png)
}

func verdictLine(v *Verified) string {
	if v.OK {
		s := fmt.Sprintf("as it should be: %d frames, picture within ΔE00 %.2f in the mean of the exact path", v.Frames, v.MeanDE00)
		if v.Compared != nil {
			s += fmt.Sprintf(" (the codec alone: %.2f)", v.Compared.CodecMean)
		}
		if v.AudioSame != nil && *v.AudioSame {
			s += ", sound bit for bit"
		}
		return s
	}
	var all []string
	for _, p := range v.Problems {
		all = append(all, p.What)
	}
	return "PROBLEMS: " + strings.Join(all, "; ")
}

func makeExample(ctx context.Context, r DemoRequest, told func(string), report Progress) (*demo.Made, error) {
	var p *pace
	made, err := demo.Make(ctx, demo.Options{Dir: r.Dir, Size: r.Size, Seconds: r.Seconds, Overwrite: true}, func(done, total int, what string) {
		if p == nil || p.step.What != what {
			p = newPace(report, what, "frames", int64(total))
		}
		p.at(int64(done))
	})
	if err != nil {
		return nil, err
	}
	told(fmt.Sprintf("example: generated in %s: a switch clip and two episode clips (%s), with the truth beside them", r.Dir, made.Curve))
	return made, nil
}

// panelWidth is how wide a picture of the contact sheet is.
const panelWidth = 620

// beforeAfter shows a clip's middle frame as recorded, converted alone, and
// from the finished file.
func beforeAfter(ctx context.Context, clip, gradeFile, finished string) ([]Panel, error) {
	w, err := Open(ctx, clip, gradeFile)
	if err != nil {
		return nil, err
	}
	middle := w.Info.Video.Frames / 2
	frame, err := w.frame(ctx, middle)
	if err != nil {
		return nil, err
	}
	done, err := readFrames(ctx, finished, media.ReadOptions{Start: middle, Count: 1})
	if err != nil {
		return nil, err
	}
	plain := *w.Grade
	for _, s := range grade.Stages() {
		if s != grade.StageDecode && s != grade.StageConvert && s != grade.StageEncode {
			plain.SetOff(s, true)
		}
	}
	converted, err := OpenWith(w.Info, &plain, filepath.Dir(gradeFile))
	if err != nil {
		return nil, err
	}
	name := filepath.Base(clip)
	row := []Panel{
		{Caption: name + ": as recorded (log)", Image: shrink(frame.Image(picture.SpaceDisplay, clampSignal))},
		{Caption: "converted alone", Image: converted.Program.Preview(frame, panelWidth, panelWidth)},
	}
	if len(done) > 0 {
		row = append(row, Panel{Caption: "graded, from the finished file", Image: shrink(done[0].Image(picture.SpaceDisplay, clampSignal))})
	}
	return row, nil
}

// stageRows shows one frame as it is after each stage that does something.
func stageRows(ctx context.Context, clip, gradeFile string) ([][]Panel, error) {
	w, err := Open(ctx, clip, gradeFile)
	if err != nil {
		return nil, err
	}
	frame, err := w.frame(ctx, w.Info.Video.Frames/2)
	if err != nil {
		return nil, err
	}
	// The exact path for each pixel of each stage would take as long as a render:
	// every few pixels are enough for panels of that size.
	step := max(1, frame.Width/panelWidth-1)
	var panels []Panel
	for _, s := range grade.Stages() {
		if !w.Path.Runs(s) || s == grade.StageDecode || s == grade.StageEncode {
			continue
		}
		domain := w.Path.DomainAfter(s)
		im := picture.NewImage(frame.Width/step, frame.Height/step, picture.SpaceDisplay)
		if s == grade.StageVignette {
			im = w.Program.Preview(frame, panelWidth, panelWidth)
		} else {
			parallel(im.H, func(y int) {
				for x := range im.W {
					im.Set(x, y, shown(domain, w.Path.After(s, w.Program.Input.Signal(frame.RGB(step*x, step*y)))))
				}
			})
		}
		panels = append(panels, Panel{Caption: fmt.Sprintf("after %s (%s)", s, domain), Image: shrink(im)})
	}
	var rows [][]Panel
	for len(panels) > 0 {
		n := min(3, len(panels))
		rows, panels = append(rows, panels[:n]), panels[n:]
	}
	return rows, nil
}

// shown makes a picture that can be looked at of a stage's numbers: scene
// light by BT.709's own camera curve, log as it is.
func shown(d grade.Domain, v [3]float64) [3]float64 {
	if d == grade.DomainScene {
		for i := range v {
			v[i] = colour.BT709.Encode(v[i])
		}
	}
	return clampSignal(v)
}

func clampSignal(v [3]float64) [3]float64 {
	for i := range v {
		v[i] = min(1, max(0, v[i]))
	}
	return v
}

func shrink(im *picture.Image) *picture.Image {
	w, h := picture.Fit(im.W, im.H, panelWidth, panelWidth)
	return im.Shrink(w, h)
}

// frame reads one frame of the clip.
func (w *Work) frame(ctx context.Context, n int) (*picture.Frame, error) {
	frames, err := readFrames(ctx, w.Info.Path, media.ReadOptions{Info: w.Info, Override: Override(w.Grade), Start: n, Count: 1})
	if err != nil {
		return nil, err
	}
	if len(frames) == 0 {
		return nil, inputFault(w.Info.Path, os.ErrNotExist)
	}
	return frames[0], nil
}

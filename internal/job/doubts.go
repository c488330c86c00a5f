package job

import (
	"context"

	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/media"
)

// doubtFrames are looked at, from the middle of the clip.
const doubtFrames = 3

// doubtKinds are the problems that mean the clip is read wrongly, so that
// everything made from it would be.
var doubtKinds = map[string]bool{"range-tag": true, "curve-levels": true, "curve-wrong": true, "bits-stretched": true}

// doubts asks whether the codes can mean what the tags and the grade say they
// do: range, conversions on the way, and curve. It looks at a few frames, so that a render can say it
// before it begins; measure looks at more.
func (w *Work) doubts(ctx context.Context) ([]gauge.Problem, error) {
	n := min(doubtFrames, max(1, w.Info.Video.Frames))
	frames, err := readFrames(ctx, w.Info.Path, media.ReadOptions{Info: w.Info, Override: Override(w.Grade), Start: max(0, (w.Info.Video.Frames-n)/2), Count: n})
	if err != nil {
		return nil, err
	}
	if len(frames) == 0 {
		return nil, nil
	}
	var cam gauge.Camera
	if !w.Grade.Off(grade.StageDecode) {
		cam = gauge.Camera{Curve: w.Path.Curve, ClipCode: w.Grade.Decode.Clip}
	}
	codes := gauge.NewCodes(cam)
	var viewer gauge.Viewer
	for _, f := range frames {
		codes.Add(viewer.Look(f))
	}
	var out []gauge.Problem
	for _, p := range codes.Result().Problems {
		if doubtKinds[p.Kind] {
			out = append(out, p)
		}
	}
	return out, nil
}

// doubtNotes are doubts as lines.
func (w *Work) doubtNotes(ctx context.Context) ([]string, error) {
	doubts, err := w.doubts(ctx)
	var out []string
	for _, p := range doubts {
		out = append(out, p.What+": "+p.Advice)
	}
	return out, err
}

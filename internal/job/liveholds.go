package job

import (
	"context"
	"math"
	"path/filepath"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/lamps"
	"lampwise/internal/picture"
)

// HoldsFound is the cause of a fault of Learn where holds were found and don't
// go with the order: what was found, so that it can be shown. On is empty.
type HoldsFound struct {
	Curve string         `json:"curve"`
	Holds []book.SetHold `json:"holds"`
	said  *fault.Fault
}

func (h *HoldsFound) Error() string { return h.said.Message }

// Unwrap gives the cause.
func (h *HoldsFound) Unwrap() error { return h.said.Err }

// Hint is what to do where the holds are shown.
func (h *HoldsFound) Hint() string { return h.said.Hint }

func holdsFound(curve string, rec *lamps.Recording, said *fault.Fault) *HoldsFound {
	out := &HoldsFound{Curve: curve, said: said}
	for _, h := range rec.Holds {
		out.Holds = append(out.Holds, book.SetHold{Start: float64(h.Start), End: float64(h.End), On: []string{}})
	}
	return out
}

// HoldStill is the frame of a switch clip at a time in s as a PNG to tell it
// by: converted for the screen, not graded, at most maxWidth wide. Without a
// curve the signal is shown as recorded.
func (l *Live) HoldStill(ctx context.Context, clip string, at float64, curve string, maxWidth int) ([]byte, error) {
	info, err := l.Info(ctx, clip)
	if err != nil {
		return nil, err
	}
	n := int(math.Round(at * info.Video.Rate.Float()))
	if !(at >= 0) || n >= max(1, info.Video.Frames) {
		return nil, fault.New(fault.Usage, "time", "", "%s has no frame at %v s", filepath.Base(clip), at)
	}
	frame, err := l.Frame(ctx, clip, n, maxWidth, OverrideOf("auto", "auto"))
	if err != nil {
		return nil, err
	}
	if curve == "" {
		return stillPNG(frame.W, frame.H, frame.At)
	}
	v, err := newViewer(curve, "")
	if err != nil {
		return nil, err
	}
	path, err := grade.Build(&v.path.Grade, grade.Clip{Format: info.FormatWith(OverrideOf("auto", "auto"))}, nil)
	if err != nil {
		return nil, err
	}
	program, err := path.Program()
	if err != nil {
		return nil, err
	}
	shown := picture.NewImage(frame.W, frame.H, picture.SpaceDisplay)
	parallel(frame.H, func(y int) {
		for x := range frame.W {
			shown.Set(x, y, clampSignal(path.Exact(program.Input.Signal(frame.At(x, y)))))
		}
	})
	return stillPNG(frame.W, frame.H, shown.At)
}

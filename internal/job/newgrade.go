package job

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/grade"
	"lampwise/internal/media"
	"lampwise/internal/picture/lutfile"
)

// NewGrade asks for a starting grade.
type NewGrade struct {
	File      string
	Curve     string // empty: as said before of clips like Clip
	Clip      string // empty: none
	Overwrite bool
}

// MadeGrade is what was written.
type MadeGrade struct {
	File   string   `json:"file"`
	Curve  string   `json:"curve"`
	Beside []string `json:"beside"` // LUT files written with it
	Notes  []string `json:"notes"`
}

// MakeGrade writes a starting grade and the look it names beside it.
func MakeGrade(ctx context.Context, store Aliases, r NewGrade) (*MadeGrade, error) {
	made := &MadeGrade{File: r.File, Curve: r.Curve, Beside: []string{}, Notes: []string{}}
	var info *media.Info
	if r.Clip != "" {
		var err error
		if info, err = media.Probe(ctx, r.Clip); err != nil {
			return nil, err
		}
		if made.Curve, err = knownCurve(ctx, store, info, r.Curve); err != nil {
			return nil, err
		}
	}
	if made.Curve == "" {
		return nil, fault.New(fault.Usage, "no-curve", "Add --curve ID. lampwise curves lists them; lampwise curves find looks one up by the figures in the camera's manual.",
			"which curve was it recorded with?")
	}
	if _, err := colour.CurveByID(made.Curve); err != nil {
		return nil, err
	}
	g := grade.Starting(made.Curve)
	if info != nil {
		note, err := measureClip(ctx, info, g)
		if err != nil {
			return nil, err
		}
		made.Notes = append(made.Notes, note)
	}
	if !r.Overwrite {
		if err := absent(r.File); err != nil {
			return nil, err
		}
	}
	look := filepath.Join(filepath.Dir(r.File), grade.LookFile)
	if _, err := os.Stat(look); errors.Is(err, fs.ErrNotExist) {
		if err := writeLook(look); err != nil {
			return nil, err
		}
		made.Beside = append(made.Beside, look)
	}
	if err := writeFile(r.File, r.Overwrite, g.Bytes()); err != nil {
		return nil, err
	}
	return made, nil
}

// clipSamples is how many frames, spread over the clip, are looked at for the
// code at which the recording clips.
const clipSamples = 6

// measureClip writes the recording's own clip into the grade, if a highlight
// in the clip is blown, and says what it found.
func measureClip(ctx context.Context, info *media.Info, g *grade.Grade) (string, error) {
	var finder gauge.ClipFinder
	n := min(clipSamples, info.Video.Frames)
	for i := range n {
		frames, err := readFrames(ctx, info.Path, media.ReadOptions{Info: info, Start: i * info.Video.Frames / n, Count: 1})
		if err != nil {
			return "", err
		}
		for _, f := range frames {
			finder.Add(f)
		}
	}
	found := finder.Find()
	if !found.Found {
		return fmt.Sprintf("nothing in the clip is blown (brightest code %.0f of 10 bits): where the recording clips is not known, so the curve's end is taken", found.Code), nil
	}
	g.Decode.Clip = math.Round(10*found.Code) / 10
	return fmt.Sprintf("the recording clips at code %.0f of 10 bits (%.3f %% of the picture is blown); the tone scale reaches its peak there", found.Code, 100*found.Share), nil
}

// knownCurve is the curve said now, or else before.
func knownCurve(ctx context.Context, store Aliases, info *media.Info, said string) (string, error) {
	if said != "" {
		_, err := SayCurve(ctx, store, info, said)
		return said, err
	}
	return SaidCurve(ctx, store, info)
}

func writeLook(path string) error {
	var b bytes.Buffer
	if err := lutfile.WriteCube(&b, grade.AmberDusk(), grade.LookComments()); err != nil {
		return err
	}
	return writeFile(path, false, b.Bytes())
}

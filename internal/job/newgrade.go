package job

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
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

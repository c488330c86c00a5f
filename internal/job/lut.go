package job

import (
	"bytes"
	"path/filepath"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/grade"
	"lampwise/internal/picture"
	"lampwise/internal/picture/lutfile"
)

// BakeRequest asks for a grade as one LUT file.
type BakeRequest struct {
	Grade, Out string
	Size       int
	Levels     colour.Levels
	Interp     picture.Interp
	Overwrite  bool
}

// Baked is what was written.
type Baked struct {
	File   string           `json:"file"`
	Size   int              `json:"size"`
	Levels colour.Levels    `json:"levels"`
	Error  picture.Measured `json:"error"` // against the exact path, over the middles of the grid's cells
	Notes  []string         `json:"notes"`
}

// BakeLUT writes a grade as one 3-D LUT, without vignette, for a camera's
// screen or an editing program. The name's ending chooses the kind: .cube or .clf.
func BakeLUT(r BakeRequest) (*Baked, error) {
	kind := strings.ToLower(filepath.Ext(r.Out))
	if kind != ".cube" && kind != ".clf" {
		return nil, fault.New(fault.Usage, "lut-kind", "Name it .cube or .clf.", "%s: a LUT is written as .cube or .clf, not %q", r.Out, kind)
	}
	if !r.Overwrite {
		if err := absent(r.Out); err != nil {
			return nil, err
		}
	}
	g, err := grade.Load(r.Grade)
	if err != nil {
		return nil, err
	}
	path, err := grade.Build(g, grade.Clip{}, LUTsIn(filepath.Dir(r.Grade)))
	if err != nil {
		return nil, err
	}
	options := grade.BakeOptions{Size: r.Size, Levels: r.Levels, Interp: r.Interp}
	lut, e, err := path.Bake(options)
	if err != nil {
		return nil, err
	}
	comments := path.LUTComments(options, e)
	var b bytes.Buffer
	if kind == ".clf" {
		err = lutfile.WriteCLF(&b, &picture.Chain{Title: g.Name, Description: comments, Ops: []picture.Op{lut}})
	} else {
		err = lutfile.WriteCube(&b, lut, comments)
	}
	if err != nil {
		return nil, err
	}
	if err := writeFile(r.Out, r.Overwrite, b.Bytes()); err != nil {
		return nil, err
	}
	baked := &Baked{File: r.Out, Size: r.Size, Levels: r.Levels, Error: e.Grid, Notes: append([]string{}, path.Notes...)}
	if path.Runs(grade.StageVignette) {
		baked.Notes = append(baked.Notes, "the vignette depends on place and is not in the LUT")
	}
	return baked, nil
}

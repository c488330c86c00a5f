package job

import (
	"context"
	"path/filepath"
	"sync"

	"lampwise/internal/colour"
	"lampwise/internal/grade"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/picture/lutfile"
)

// Work is a clip under a grade: facts, path and program, ready to be executed.
type Work struct {
	Info    *media.Info
	Format  picture.Format // how the clip's frames are read, the grade's overrides applied
	Grade   *grade.Grade
	Path    *grade.Path
	Program *picture.Program
	// Notes are what a person should know: what was assumed of the clip, how
	// settings were met.
	Notes []string
}

// Open brings a clip and a grade file together.
func Open(ctx context.Context, clip, gradeFile string) (*Work, error) {
	g, err := grade.Load(gradeFile)
	if err != nil {
		return nil, err
	}
	info, err := media.Probe(ctx, clip)
	if err != nil {
		return nil, err
	}
	return OpenWith(info, g, filepath.Dir(gradeFile))
}

// OpenWith is Open for what is read already; LUT files are looked for from folder.
func OpenWith(info *media.Info, g *grade.Grade, folder string) (*Work, error) {
	w := &Work{Info: info, Grade: g, Format: info.FormatWith(Override(g))}
	var err error
	w.Path, err = grade.Build(g, grade.Clip{Format: w.Format, CurveHint: info.HintKey}, LUTsIn(folder))
	if err != nil {
		return nil, err
	}
	if w.Program, err = w.Path.Program(); err != nil {
		return nil, err
	}
	for _, n := range info.Notes {
		if n.Code == "range-assumed" && g.Decode.Range != "auto" || n.Code == "matrix-assumed" && g.Decode.Matrix != "auto" {
			continue
		}
		w.Notes = append(w.Notes, n.Message)
	}
	w.Notes = append(w.Notes, w.Path.Notes...)
	return w, nil
}

// Override is what a grade says of a clip against its tags.
func Override(g *grade.Grade) media.Override {
	var o media.Override
	if g.Decode.Range != "auto" {
		o.Range = colour.Range(g.Decode.Range)
	}
	if g.Decode.Matrix != "auto" {
		o.Matrix = colour.MatrixCoefficients(g.Decode.Matrix)
	}
	return o
}

// LUTsIn finds the LUT files that a grade names: relative names start from
// folder, the grade file's own. A file is read once.
func LUTsIn(folder string) grade.LUTs {
	var mu sync.Mutex
	read := map[string]*picture.Chain{}
	return grade.LUTFunc(func(name, id string) (*picture.Chain, error) {
		path := name
		if !filepath.IsAbs(path) {
			path = filepath.Join(folder, path)
		}
		if id != "" {
			path += "#" + id
		}
		mu.Lock()
		defer mu.Unlock()
		if c := read[path]; c != nil {
			return c, nil
		}
		c, err := lutfile.Load(path)
		if err == nil {
			read[path] = c
		}
		return c, err
	})
}

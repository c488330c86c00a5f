package job

import (
	"lampwise/internal/colour"
	"lampwise/internal/picture/lutfile"
)

// LUTReport is what a LUT file is and does.
type LUTReport struct {
	File        string   `json:"file"`
	Title       string   `json:"title,omitempty"`
	Description []string `json:"description,omitempty"`
	*lutfile.Inspection
	Levels *lutfile.InputLevels `json:"levels,omitempty"` // with a curve
}

// InspectLUT looks at a LUT file as a function of colour; with a curve also at
// where its recordings land.
func InspectLUT(path, curveID string) (*LUTReport, error) {
	var curve *colour.Curve
	if curveID != "" {
		var err error
		if curve, err = colour.CurveByID(curveID); err != nil {
			return nil, err
		}
	}
	chain, err := lutfile.Load(path)
	if err != nil {
		return nil, err
	}
	r := &LUTReport{File: path, Title: chain.Title, Description: chain.Description, Inspection: lutfile.Inspect(chain)}
	if curve != nil {
		r.Levels = lutfile.Levels(chain, curve)
	}
	return r, nil
}

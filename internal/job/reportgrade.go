package job

import (
	"fmt"
	"path/filepath"
	"strings"

	"lampwise/internal/grade"
)

// StageWords is a stage of a grade in words.
type StageWords struct {
	Stage grade.Stage `json:"stage"`
	Words string      `json:"words"`
}

// GradeWords says in plain words what a grade does, stage by stage.
func GradeWords(p *grade.Path) []StageWords {
	var out []StageWords
	for _, s := range grade.Stages() {
		words := "off"
		if p.Runs(s) {
			words = stageWords(p, s)
		}
		out = append(out, StageWords{s, words})
	}
	return out
}

func stageWords(p *grade.Path, s grade.Stage) string {
	g := &p.Grade
	switch s {
	case grade.StageDecode:
		f := p.Format()
		text := fmt.Sprintf("%s to scene light; %s range, matrix %s", p.Curve.ID, f.Range, f.Matrix)
		if p.Gamut != nil {
			text += ", primaries " + p.Gamut.ID
		}
		return text
	case grade.StageExposure:
		return fmt.Sprintf("%+.2f stop", g.Exposure.Stops)
	case grade.StageBalance:
		text := fmt.Sprintf("takes %s for white and brings it to %s, by %s", g.Balance.White, g.Balance.Target, g.Balance.CAT)
		if g.Balance.Keep > 0 {
			text += fmt.Sprintf("; %.0f %% of the warmth is kept", 100*g.Balance.Keep)
		}
		return text
	case grade.StageSplit:
		return splitWords(p.Split())
	case grade.StageCurve:
		sl := p.CurveSlopes()
		return fmt.Sprintf("%s in stops from grey; slopes from %.2f (at %+.1f) to %.2f (at %+.1f)", pointWords(g.Curve.Master), sl.Least, sl.LeastAt, sl.Most, sl.MostAt)
	case grade.StageSaturation:
		text := fmt.Sprintf("colour times %.2f about luma", g.Saturation.Amount)
		if g.Saturation.CDL != nil {
			text = "an ASC CDL, then " + text
		}
		return text
	case grade.StageConvert:
		if g.Convert.By == "lut" {
			return "by the conversion LUT " + filepath.Base(g.Convert.LUT)
		}
		return fmt.Sprintf("log to the screen by a tone scale: %.2f screen stops per scene stop at grey, toe at %.1f stops, %.0f %% at the recording's clip; acting on %s", g.Convert.Slope, g.Convert.Toe, 100*g.Convert.Peak, map[string]string{"norm": "the largest channel, so that hue stays", "channels": "each channel"}[g.Convert.Apply])
	case grade.StageLook:
		return fmt.Sprintf("%s at %.0f %%", filepath.Base(g.Look.LUT), 100*g.Look.Strength)
	case grade.StageVignette:
		v := g.Vignette
		return fmt.Sprintf("%.2f stop darker at the outside, from %.2f half diagonals out, over %.2f of them, about %.0f %%, %.0f %% of the frame", v.Stops, v.Inner, v.Softness, 100*v.Centre[0], 100*v.Centre[1])
	}
	e := g.Encode
	return fmt.Sprintf("%d bits, %s, limiter %s, %s dither", e.Bits, e.Sub, e.Limiter, e.Dither)
}

func splitWords(r *grade.SplitReport) string {
	if r == nil {
		return "off"
	}
	var parts []string
	for i, name := range []string{"shadow", "middle", "high"} {
		if q := r.Pushes[i]; q.Mired != 0 || q.Duv != 0 {
			t := fmt.Sprintf("%s %+.1f mired, Duv %+.4f", name, q.Mired, q.Duv)
			if name == r.Counter {
				t += " (solved, so that the mean chroma stays)"
			}
			parts = append(parts, t)
		}
	}
	card := "the card stays neutral"
	if !r.CardNeutral {
		card = fmt.Sprintf("the card moves by ΔE00 %.1f", r.CardDeltaE)
	}
	return strings.Join(append(parts, card), "; ")
}

func pointWords(points [][2]float64) string {
	if len(points) == 0 {
		return "no master points"
	}
	var t []string
	for _, p := range points {
		t = append(t, fmt.Sprintf("%+.1f → %+.2f", p[0], p[1]))
	}
	return strings.Join(t, ", ")
}

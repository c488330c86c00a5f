package job

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/media"
	"lampwise/internal/unit"
)

// BracketFile is one exposure of a bracket: a clip or a still, and its stops
// from the exposure at which the card is grey.
type BracketFile struct {
	Path  string
	Stops unit.Stop
}

// BracketRequest measures a camera's curve from an exposure bracket of one
// steady grey card. Either Files or Readings is given.
type BracketRequest struct {
	Files    []BracketFile
	Card     gauge.Box // where the card stands in every file
	Override media.Override
	Readings string // a text file: stops, 10-bit code, and if known its standard error, a line each
	// StopSigma is how well the exposure steps are known.
	StopSigma unit.Stop
}

// FitCurve reads the bracket and fits the curve.
func FitCurve(ctx context.Context, r BracketRequest) (colour.CurveFit, error) {
	b := colour.Bracket{StopSigma: r.StopSigma}
	var err error
	if r.Readings != "" {
		b.Samples, err = readBracket(r.Readings)
	} else {
		b.Samples, err = measureBracket(ctx, r)
	}
	if err != nil {
		return colour.CurveFit{}, err
	}
	fit, err := colour.FitCurve(b)
	if f, ok := fault.As(err); ok && r.Readings != "" {
		return fit, fault.Wrap(f, f.Class, f.Code, f.Hint, "%s: %s", filepath.Base(r.Readings), f.Message)
	}
	return fit, err
}

// bracketFrames is how many frames of a clip are averaged.
const bracketFrames = 12

func measureBracket(ctx context.Context, r BracketRequest) ([]colour.BracketSample, error) {
	var samples []colour.BracketSample
	var clip gauge.ClipFinder
	bits := 0
	var patches []gauge.Patch
	for _, file := range r.Files {
		info, err := media.Probe(ctx, file.Path)
		if err != nil {
			return nil, err
		}
		frames, err := readFrames(ctx, file.Path, media.ReadOptions{Info: info, Override: r.Override, Count: min(bracketFrames, max(1, info.Video.Frames))})
		if err != nil {
			return nil, err
		}
		if len(frames) == 0 {
			return nil, fault.New(fault.Input, "no-frames", "", "%s: holds no picture that can be read", file.Path)
		}
		if bits != 0 && frames[0].Bits != bits {
			return nil, fault.New(fault.Input, "bracket-mixed", "Record the whole bracket with the same settings.", "%s: %d bits, the files before have %d", file.Path, frames[0].Bits, bits)
		}
		bits = frames[0].Bits
		for _, f := range frames {
			clip.Add(f)
		}
		patches = append(patches, gauge.ReadPatch(frames, r.Card))
	}
	gauge.PatchErrors(patches)
	found := clip.Find()
	for i, p := range patches {
		// A curve is fitted in codes: y = code10/1023, whatever the range.
		y := colour.Narrow.LumaToCode(p.Mean, 10) / 1023
		if p.Range == colour.Full {
			y = p.Mean
		}
		samples = append(samples, colour.BracketSample{
			Stops: r.Files[i].Stops, Y: y, Sigma: p.SE * slopeOf(p.Range),
			Clipped: found.Found && y*1023 > found.Code-4,
		})
	}
	return samples, nil
}

func slopeOf(r colour.Range) float64 {
	if r == colour.Full {
		return 1
	}
	return 876.0 / 1023
}

// readBracket reads "stops, code[, standard error]" lines; # begins a comment,
// "capped" as stops is the lens capped, "clipped" after the numbers marks a
// clipped exposure.
func readBracket(path string) ([]colour.BracketSample, error) {
	data, err := readFile(path, 1<<20)
	if err != nil {
		return nil, err
	}
	var samples []colour.BracketSample
	n, headed := 0, false
	for line := range strings.Lines(strings.TrimPrefix(string(data), "\ufeff")) {
		n++
		text, _, _ := strings.Cut(line, "#")
		cells := strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || unicode.IsSpace(r) })
		if len(cells) == 0 {
			continue
		}
		if len(samples) == 0 && !headed && !slices.ContainsFunc(cells, startsNumeric) {
			headed = true // the columns' names
			continue
		}
		bad := func(what string) error {
			return fault.New(fault.Input, "bracket-line", "Each line is: stops, 10-bit code, and if known its standard error.", "%s:%d: %s", filepath.Base(path), n, what)
		}
		var s colour.BracketSample
		if cells[len(cells)-1] == "clipped" {
			s.Clipped = true
			cells = cells[:len(cells)-1]
		}
		if len(cells) < 2 || len(cells) > 3 {
			return nil, bad("expected two or three numbers")
		}
		numbers := make([]float64, len(cells))
		for i, c := range cells {
			if i == 0 && c == "capped" {
				numbers[i] = math.Inf(-1)
				continue
			}
			v, err := strconv.ParseFloat(strings.ReplaceAll(c, "−", "-"), 64)
			if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, bad(strconv.Quote(c) + " is no number")
			}
			numbers[i] = v
		}
		s.Stops, s.Y = unit.Stop(numbers[0]), numbers[1]/1023
		if len(numbers) == 3 {
			s.Sigma = numbers[2] / 1023
		}
		samples = append(samples, s)
	}
	return samples, nil
}

func startsNumeric(s string) bool {
	return s == "capped" || strings.ContainsAny(s[:1], "0123456789+-.−") || strings.HasPrefix(s, "−")
}

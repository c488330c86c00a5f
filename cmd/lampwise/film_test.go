package main

import (
	"context"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"lampwise/internal/colour"
	"lampwise/internal/media"
	"lampwise/internal/picture"
)

// The made-up room of the scripts: three lamps that fall on a wall of patches
// from different sides, and a little ambient light.
const (
	roomWidth = 640
	roomCurve = "log-420"
)

// roomLight is the scene light of a pixel for the lamps' levels (key, fill, rim).
// The room's proportions are 16:9.
func roomLight(x, y, width int, levels [3]float64) [3]float64 {
	fx, fy := float64(x)/float64(width), float64(y)/float64(width*9/16)
	bell := func(cx, cy, r float64) float64 { return math.Exp(-((fx-cx)*(fx-cx) + (fy-cy)*(fy-cy)) / (r * r)) }
	lamp := [4]float64{
		levels[0] * 0.55 * bell(0.3, 0.4, 0.45),
		levels[1] * 0.16 * bell(0.9, 0.6, 0.6),
		levels[2] * 0.22 * bell(0.6, 0.1, 0.3),
		0.05,
	}
	hue := [4][3]float64{{1, 1, 1}, {1.06, 1, 0.9}, {1.2, 1, 0.7}, {0.9, 1, 1.15}}
	// Patches of several reflectances, with enough edges to tell a movement by.
	k := (16*x/width*7 + 16*y/width*5) % 9
	surface := 0.25 + 0.09*float64(k) + 0.05*math.Sin(100*fx)*math.Cos(49*fy)
	var out [3]float64
	for c := range out {
		for i, l := range lamp {
			out[c] += surface * l * hue[i][c]
		}
	}
	return out
}

// film films the made-up room: film FILE SECONDS LEVELS…, a hold for each
// "key,fill,rim" of levels; before them may stand gain=STOPS, move=PIXELS and
// wide=PIXELS (640).
func film(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: film FILE SECONDS [gain=STOPS] [move=PIXELS] LEVELS…")
	}
	file := ts.MkAbs(args[0])
	seconds, err := strconv.ParseFloat(args[1], 64)
	ts.Check(err)
	gain, move, width := 1.0, 0, roomWidth
	var holds [][3]float64
	for _, a := range args[2:] {
		if v, ok := strings.CutPrefix(a, "gain="); ok {
			s, err := strconv.ParseFloat(v, 64)
			ts.Check(err)
			gain = math.Exp2(s)
			continue
		}
		if v, ok := strings.CutPrefix(a, "move="); ok {
			move, err = strconv.Atoi(v)
			ts.Check(err)
			continue
		}
		if v, ok := strings.CutPrefix(a, "wide="); ok {
			width, err = strconv.Atoi(v)
			ts.Check(err)
			continue
		}
		var l [3]float64
		parts := strings.Split(a, ",")
		if len(parts) != len(l) {
			ts.Fatalf("%q: not three levels", a)
		}
		for i, p := range parts {
			l[i], err = strconv.ParseFloat(p, 64)
			ts.Check(err)
		}
		holds = append(holds, l)
	}
	curve, err := colour.CurveByID(roomCurve)
	ts.Check(err)
	height := width * 9 / 16
	f := picture.Format{Width: width, Height: height, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
	w, err := media.NewWriter(context.Background(), file, media.WriteOptions{Format: f, Rate: media.Rational{Num: 25, Den: 1}, Codec: media.CodecIntermediate, Quality: 8})
	ts.Check(err)
	rng := rand.New(rand.NewPCG(11, uint64(len(args))))
	slope, offset := curve.SignalFromE(f.Range)
	m := f.Matrix.FromRGB()
	frame := picture.NewFrame(f)
	code := func(v float64) uint16 { return uint16(min(1019, max(4, math.Round(v)))) }
	for _, levels := range holds {
		signal := make([][3]float64, width*height)
		light := make([][3]float64, len(signal))
		for p := range light {
			light[p] = roomLight(p%width+move, p/width, width, levels)
		}
		for range int(math.Round(25 * seconds)) {
			for p := range signal {
				for c := range 3 {
					x := gain * light[p][c]
					x += rng.NormFloat64() * math.Sqrt(1e-6+6e-5*x)
					signal[p][c] = (curve.Encode(x) - offset) / slope
				}
			}
			for p, s := range signal {
				v := m.Apply(s)
				frame.Y[p] = code(f.Range.LumaToCode(v[0], f.Bits))
				if p%2 == 0 {
					frame.Cb[p/2], frame.Cr[p/2] = code(f.Range.ChromaToCode(v[1], f.Bits)), code(f.Range.ChromaToCode(v[2], f.Bits))
				}
			}
			ts.Check(w.Write(frame))
		}
	}
	ts.Check(w.Close())
}

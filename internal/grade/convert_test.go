package grade

import (
	"encoding/csv"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// truth opens a file of the reference values, or skips the test by its name.
func truth(t *testing.T, name string) *os.File {
	t.Helper()
	dir := os.Getenv("LAMPWISE_TRUTH")
	if dir == "" {
		root := "."
		for range 10 {
			if _, err := os.Stat(filepath.Join(root, "go.mod")); err == nil {
				break
			}
			root = filepath.Join(root, "..")
		}
		dir = filepath.Join(root, "..", "shared", "truth")
	}
	f, err := os.Open(filepath.Join(dir, name))
	if errors.Is(err, fs.ErrNotExist) {
		t.Skipf("reference values %s are absent", name)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// patch is a chart patch as linear BT.709 under D65.
type patch struct {
	name string
	rgb  [3]float64
}

func chart(t *testing.T, numbers ...int) []patch {
	r := csv.NewReader(truth(t, "chart24.csv"))
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []patch
	for _, row := range rows {
		for _, n := range numbers {
			if len(row) > 13 && row[1] == strconv.Itoa(n) {
				p := patch{name: row[0] + " " + row[2]}
				for i := range p.rgb {
					if p.rgb[i], err = strconv.ParseFloat(row[11+i], 64); err != nil {
						t.Fatal(err)
					}
				}
				out = append(out, p)
			}
		}
	}
	if len(out) == 0 {
		t.Fatal("the chart has no such patches")
	}
	return out
}

// onlyConvert is a grade with nothing but our conversion.
func onlyConvert(curve, apply string) *Grade {
	g := defaults()
	g.Decode.Curve = curve
	g.Convert.Apply = apply
	g.Look.Off = true
	g.Balance.Off = true
	return g
}

// hueShift is the CIELAB hue on the screen less that of the scene colour
// brought to the same luminance, in degrees.
func hueShift(scene, screen [3]float64) float64 {
	k := displayedLight(screen) / luma(scene)
	var ref [3]float64
	for i := range ref {
		ref[i] = math.Pow(max(k*scene[i], 0), 1/displayPower)
	}
	a, b := colour.DisplayLab(screen), colour.DisplayLab(ref)
	d := (math.Atan2(a[2], a[1]) - math.Atan2(b[2], b[1])) * 180 / math.Pi
	return math.Mod(d+540, 360) - 180
}

// What the documentation of convert claims of skin's hue by norm, in degrees,
// from three stops under: to three over, where it is still seen as skin, and
// to four over, where it is nearly white.
const (
	skinHueTolerance    = 1.0
	brightHueTolerance  = 1.2
	skinUnder, skinOver = -3.0, 3.0
)

// The chart's two skin patches from three stops under to four over, as each
// camera gamut would record them: by norm the hue stays; on channels it turns,
// which is why the norm is the default.
func TestSkinKeepsItsHue(t *testing.T) {
	bt709 := colour.MustGamut("bt709")
	skin := chart(t, 1, 2)
	for _, curve := range []string{"log-420", "log-433", "log-407", "log-400b"} {
		worst := map[string]float64{}
		for _, apply := range []string{"norm", "channels"} {
			p, err := Build(onlyConvert(curve, apply), Clip{ClipCode: 0.87}, nil)
			if err != nil {
				t.Fatal(err)
			}
			toCamera := colour.RGBToRGB(bt709, p.Gamut, colour.CAT16)
			for _, s := range skin {
				for stops := skinUnder; stops <= skinOver+1; stops += 0.5 {
					x := toCamera.Apply(scale3(s.rgb, math.Exp2(stops)))
					for i := range x {
						x[i] = p.Curve.Encode(x[i])
					}
					d := math.Abs(hueShift(s.rgb, p.Exact(x)))
					worst[apply] = max(worst[apply], d)
					if stops <= skinOver {
						worst[apply+" as skin"] = max(worst[apply+" as skin"], d)
					}
				}
			}
		}
		t.Logf("%s: skin's hue turns by up to %.2f° by norm (%.2f° when nearly white), %.1f° on channels",
			curve, worst["norm as skin"], worst["norm"], worst["channels"])
		if worst["norm as skin"] > skinHueTolerance || worst["norm"] > brightHueTolerance {
			t.Errorf("%s: skin's hue turns by %.2f°, when nearly white by %.2f°", curve, worst["norm as skin"], worst["norm"])
		}
		if worst["channels"] < 5 {
			t.Errorf("%s: on channels the hue turns by %.2f° only; then the norm isn't the better choice", curve, worst["channels"])
		}
	}
}

func TestNeutralStaysNeutralAndGreyLandsOnGrey(t *testing.T) {
	for _, c := range colour.Curves() {
		if c.Kind != colour.KindCamera {
			continue
		}
		for _, apply := range []string{"norm", "channels"} {
			p, err := Build(onlyConvert(c.ID, apply), Clip{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			for s := -6.0; s <= 5; s += 0.5 {
				y := c.Encode(colour.Grey * math.Exp2(s))
				v := p.Exact([3]float64{y, y, y})
				if max(v[0], v[1], v[2])-min(v[0], v[1], v[2]) > 1e-6 {
					t.Errorf("%s %s: a neutral at %v stops becomes %v", c.ID, apply, s, v)
				}
			}
			// The published curves with steps decode grey to within 1e-4 stop.
			y := c.Encode(colour.Grey)
			if v := p.Exact([3]float64{y, y, y}); math.Abs(v[1]-GreySignal) > 1e-5 {
				t.Errorf("%s: grey lands at %v, want %v", c.ID, v[1], GreySignal)
			}
		}
	}
}

// Whatever the stages before do, a neutral at the recording's clip reaches
// 100 % in its lowest channel, and grey moves with exposure alone.
func TestTheRecordingsClipReachesWhite(t *testing.T) {
	cct := 4000.0
	for name, change := range map[string]func(*Grade){
		"plain":     func(*Grade) {},
		"exposure":  func(g *Grade) { g.Exposure.Stops = 1.5 },
		"darker":    func(g *Grade) { g.Exposure.Stops = -1 },
		"balance":   func(g *Grade) { g.Balance = Balance{White: White{CCT: &cct}, CAT: "CAT16"} },
		"curve":     func(g *Grade) { g.Curve.Master = [][2]float64{{-2, -3}, {0, 0}, {3, 3.5}} },
		"split":     func(g *Grade) { g.Split.High = Push{Mired: 20} },
		"peak 90 %": func(g *Grade) { g.Convert.Peak = 0.9 },
	} {
		for _, clip := range []float64{0, 0.8, 0.9} {
			g := onlyConvert("log-420", "channels")
			change(g)
			p, err := Build(g, Clip{ClipCode: clip}, nil)
			if err != nil {
				t.Fatal(err)
			}
			if clip == 0 {
				clip = 1
				if len(p.Notes) == 0 {
					t.Errorf("%s: an unmeasured clip must be told", name)
				}
			}
			v := p.Exact([3]float64{clip, clip, clip})
			if lowest := min(v[0], v[1], v[2]); math.Abs(lowest-g.Convert.Peak) > 1e-6 {
				t.Errorf("%s, clip at %v: lands at %v", name, clip, v)
			}
			// By norm the lowest channel may keep a trace of the tint.
			g.Convert.Apply = "norm"
			if p, err = Build(g, Clip{ClipCode: clip}, nil); err != nil {
				t.Fatal(err)
			}
			v = p.Exact([3]float64{clip, clip, clip})
			if lowest := min(v[0], v[1], v[2]); lowest < 0.97*g.Convert.Peak || max(v[0], v[1], v[2]) < g.Convert.Peak-1e-6 {
				t.Errorf("%s by norm, clip at %v: lands at %v", name, clip, v)
			}
		}
	}
}

func TestConvertOffLeavesTheCodesAlone(t *testing.T) {
	for _, format := range []picture.Format{{Range: colour.Narrow}, {Range: colour.Full}} {
		g := onlyConvert("log-420", "norm")
		g.Convert.Off = true
		p, err := Build(g, Clip{Format: format}, nil)
		if err != nil {
			t.Fatal(err)
		}
		prog, err := p.Program()
		if err != nil {
			t.Fatal(err)
		}
		for _, code := range []float64{64, 95, 420, 598, 940} {
			e := format.Range.LumaFromCode(code, 10)
			out := prog.Colour(prog.Input.Signal([3]float64{e, e, e}))
			if got := colour.Narrow.LumaToCode(out[1], 10); math.Abs(got-code) > 1e-9 {
				t.Errorf("%s: code %v became %v", format.Range, code, got)
			}
		}
	}
}

// A conversion LUT that is an identity shows what its levels settings do.
func TestLevelsOfAConversionLUT(t *testing.T) {
	identity := LUTFunc(func(string, string) (*picture.Chain, error) {
		return &picture.Chain{Ops: []picture.Op{lookLUT(2, func(v [3]float64) [3]float64 { return v })}}, nil
	})
	for _, c := range []struct {
		in, out string
		want    func(code float64) float64 // output signal
	}{
		{"data", "video", func(code float64) float64 { return code / 1023 }},
		{"video", "video", func(code float64) float64 { return (code - 64) / 876 }},
		{"data", "data", func(code float64) float64 { return (code - 64) / 876 }},
		{"video", "data", func(code float64) float64 { return ((code-64)/876*1023 - 64) / 876 }},
	} {
		for _, levels := range []string{"data", "video"} {
			g := onlyConvert("log-420", "norm")
			g.Decode.Levels = levels
			g.Convert.By, g.Convert.LUT, g.Convert.LUTIn, g.Convert.LUTOut = "lut", "x.cube", c.in, c.out
			p, err := Build(g, Clip{Format: picture.Format{Range: colour.Narrow}}, identity)
			if err != nil {
				t.Fatal(err)
			}
			prog, err := p.Program()
			if err != nil {
				t.Fatal(err)
			}
			for _, code := range []float64{95, 420, 700} {
				e := (code - 64) / 876
				y := prog.Input.Signal([3]float64{e, e, e})
				for what, got := range map[string]float64{"exact": p.Exact(y)[0], "program": prog.Colour(y)[0]} {
					if math.Abs(got-c.want(code)) > 1e-12 {
						t.Errorf("in %s, out %s, curve on %s, %s: code %v → %v, want %v", c.in, c.out, levels, what, code, got, c.want(code))
					}
				}
			}
		}
	}
}

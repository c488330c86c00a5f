package colour

import (
	"math"
	"testing"
)

// barColours are the signals of 75 % or 100 % bars.
var barColours = map[string][3]float64{
	"black": {}, "white": {1, 1, 1}, "yellow": {1, 1, 0}, "cyan": {0, 1, 1}, "green": {0, 1, 0},
	"magenta": {1, 0, 1}, "red": {1, 0, 0}, "blue": {0, 0, 1},
}

func barSignal(t *testing.T, name string) [3]float64 {
	if name == "grey40" {
		return [3]float64{0.4, 0.4, 0.4}
	}
	for _, level := range []struct {
		suffix string
		v      float64
	}{{"75", 0.75}, {"100", 1}, {"", 0.75}} {
		for colour, rgb := range barColours {
			if name == colour+level.suffix {
				return Mat3(Diagonal(level.v, level.v, level.v)).Apply(rgb)
			}
		}
	}
	t.Fatalf("no bar is called %q", name)
	return [3]float64{}
}

func barCodes(m MatrixCoefficients, signal [3]float64, bits int) [3]float64 {
	y := m.FromRGB().Apply(signal)
	return [3]float64{
		math.Round(Narrow.LumaToCode(y[0], bits)),
		math.Round(Narrow.ChromaToCode(y[1], bits)),
		math.Round(Narrow.ChromaToCode(y[2], bits)),
	}
}

// TestBars: the codes of colour bars, exactly: BT.709 as SMPTE RP 219-2
// tabulates them, BT.2020 and BT.601 at 75 %.
func TestBars(t *testing.T) {
	type table struct {
		Names     []string
		Y, Cb, Cr []float64
	}
	var file struct {
		SMPTE []struct {
			Name  string
			Codes [3]float64 `json:"ycbcr10_standard"`
			RGB   [3]float64 `json:"rgb10_narrow"`
		} `json:"bars_smpte_rp219_75pct_709"`
		Full []struct {
			Name      string
			Y, Cb, Cr float64
			Codes10   [3]float64 `json:"ycbcr10"`
			Codes8    [3]float64 `json:"ycbcr8"`
		} `json:"bars_100pct_709"`
		BT2020 table `json:"bars_2020_75pct_10bit"`
		BT601  table `json:"bars_601_75pct_10bit"`
	}
	truthJSON(t, "video-qc.json", &file)
	if len(file.SMPTE) != 8 || len(file.Full) != 7 || len(file.BT2020.Names) != 9 || len(file.BT601.Names) != 9 {
		t.Fatal("video-qc.json has not the expected bars")
	}
	for _, bar := range file.SMPTE {
		signal := barSignal(t, bar.Name)
		if got := barCodes(MatrixBT709, signal, 10); got != bar.Codes {
			t.Errorf("BT.709 %s: %v, expected %v", bar.Name, got, bar.Codes)
		}
		for k, v := range signal {
			if got := math.Round(Narrow.LumaToCode(v, 10)); got != bar.RGB[k] {
				t.Errorf("%s: R′G′B′ code %g, expected %g", bar.Name, got, bar.RGB[k])
			}
		}
	}
	for _, bar := range file.Full {
		signal := barSignal(t, bar.Name)
		y := MatrixBT709.FromRGB().Apply(signal)
		if math.Abs(y[0]-bar.Y) > 1e-15 || math.Abs(y[1]-bar.Cb) > 1e-15 || math.Abs(y[2]-bar.Cr) > 1e-15 {
			t.Errorf("BT.709 %s: %v, expected %g %g %g", bar.Name, y, bar.Y, bar.Cb, bar.Cr)
		}
		if got := barCodes(MatrixBT709, signal, 10); got != bar.Codes10 {
			t.Errorf("BT.709 %s: %v, expected %v", bar.Name, got, bar.Codes10)
		}
		if got := barCodes(MatrixBT709, signal, 8); got != bar.Codes8 {
			t.Errorf("BT.709 %s, 8 bits: %v, expected %v", bar.Name, got, bar.Codes8)
		}
	}
	for m, want := range map[MatrixCoefficients]table{MatrixBT2020: file.BT2020, MatrixBT601: file.BT601} {
		for i, name := range want.Names {
			codes := [3]float64{want.Y[i], want.Cb[i], want.Cr[i]}
			if got := barCodes(m, barSignal(t, name), 10); got != codes {
				t.Errorf("%s %s: %v, expected %v", m, name, got, codes)
			}
		}
	}
}

func TestSceneCurveSamples(t *testing.T) {
	var file struct {
		Transfer struct {
			BT709 struct {
				Samples map[string]float64 `json:"samples_L_to_V"`
			} `json:"bt709_oetf"`
			BT1886 struct {
				Samples map[string]map[string]float64 `json:"samples_V_to_L"`
			} `json:"bt1886_eotf"`
			SRGB struct {
				Samples map[string]float64 `json:"samples_L_to_V"`
			} `json:"srgb"`
			HLG struct {
				Samples map[string]float64 `json:"samples_E_to_signal"`
				Gamma   float64            `json:"ootf_gamma_1000nit"`
			} `json:"hlg"`
			PQ struct {
				Samples map[string]float64 `json:"samples_nits_to_signal"`
			} `json:"pq"`
		} `json:"transfer_functions"`
	}
	truthJSON(t, "log-curves.json", &file)
	tf := file.Transfer
	check := func(c *Curve, scale float64, samples map[string]float64) {
		if len(samples) < 8 {
			t.Errorf("%s: %d samples", c.ID, len(samples))
		}
		for x, want := range samples {
			light := number(t, x) / scale
			if got := c.Encode(light); math.Abs(got-want) > 1e-14 {
				t.Errorf("%s at %s: %.16g, expected %.16g", c.ID, x, got, want)
			}
			if back := c.Decode(want); math.Abs(back-light) > 1e-12 {
				t.Errorf("%s at %s: comes back %.16g", c.ID, x, back)
			}
		}
	}
	check(BT709, 1, tf.BT709.Samples)
	check(SRGB, 1, tf.SRGB.Samples)
	check(HLG, 1, tf.HLG.Samples)
	check(PQ, 10000, tf.PQ.Samples)
	for name, d := range map[string]Display1886{"Lw100_Lb0": {100, 0}, "Lw100_Lb0.01": {100, 0.01}, "Lw100_Lb0.1": {100, 0.1}} {
		samples := tf.BT1886.Samples[name]
		if len(samples) != 7 {
			t.Errorf("%s: %d samples", name, len(samples))
		}
		for v, want := range samples {
			signal := number(t, v)
			if got := d.EOTF(signal); math.Abs(got-want) > 1e-11 {
				t.Errorf("BT.1886 %s at %s: %.14g, expected %.14g", name, v, got, want)
			}
			if back := d.InverseEOTF(want); math.Abs(back-signal) > 1e-12 {
				t.Errorf("BT.1886 %s at %s: comes back %.14g", name, v, back)
			}
			if got := 100 * BT1886.Decode(signal); d.Black == 0 && math.Abs(got-want) > 1e-12 {
				t.Errorf("bt1886 at %s: %.14g, expected %.14g", v, got, want)
			}
		}
	}
	if g := HLGSystemGamma(1000); g != tf.HLG.Gamma {
		t.Errorf("system gamma at 1000 cd/m² is %g", g)
	}
}

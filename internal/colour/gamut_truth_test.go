package colour

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

type truthGamut struct {
	Primaries     map[string][2]float64 `json:"primaries_xy"`
	White         [2]float64            `json:"white_xy"`
	ToXYZ         *Mat3                 `json:"rgb_to_xyz"`
	FromXYZ       *Mat3                 `json:"xyz_to_rgb"`
	ToAP0         *Mat3                 `json:"to_ap0"`
	ToAP0CAT      string                `json:"to_ap0_adaptation"`
	ToAP0Stated   *Mat3                 `json:"to_ap0_published"`
	ToBT709       *Mat3                 `json:"to_linear_bt709"`
	ToXYZStated   *Mat3                 `json:"rgb_to_xyz_published"`
	StatedDiffers float64               `json:"published_vs_derived_max_abs"`
}

func furthest(a, b Mat3) float64 {
	d := 0.0
	for i := range a {
		for j := range a[i] {
			d = max(d, math.Abs(a[i][j]-b[i][j]))
		}
	}
	return d
}

// matrixTolerance: the same float64 derivation in another order of operations.
const matrixTolerance = 1e-12

func TestGamutMatrices(t *testing.T) {
	var file struct {
		Gamuts map[string]truthGamut `json:"gamuts"`
	}
	truthJSON(t, "log-curves.json", &file)
	if len(file.Gamuts) != len(Gamuts()) {
		t.Errorf("%d gamuts stated, %d here", len(file.Gamuts), len(Gamuts()))
	}
	cats := map[string]CAT{"CAT02": CAT02, "Bradford": Bradford}
	for id, want := range file.Gamuts {
		g, err := GamutByID(id)
		if err != nil {
			t.Error(err)
			continue
		}
		if err := g.Check(); err != nil {
			t.Error(err)
		}
		if want.Primaries != nil {
			if g.R != (XY{want.Primaries["R"][0], want.Primaries["R"][1]}) || g.G != (XY{want.Primaries["G"][0], want.Primaries["G"][1]}) ||
				g.B != (XY{want.Primaries["B"][0], want.Primaries["B"][1]}) || g.W != (XY{want.White[0], want.White[1]}) {
				t.Errorf("%s: primaries %+v, expected %v %v", id, *g, want.Primaries, want.White)
			}
		}
		if want.ToXYZ != nil {
			if d := furthest(g.ToXYZ(), *want.ToXYZ); d > matrixTolerance {
				t.Errorf("%s to XYZ: %.2g off", id, d)
			}
			if d := furthest(g.FromXYZ(), *want.FromXYZ); d > matrixTolerance {
				t.Errorf("%s from XYZ: %.2g off", id, d)
			}
		}
		if want.ToXYZStated != nil {
			if d := furthest(g.ToXYZ(), *want.ToXYZStated); d > want.StatedDiffers*1.001+matrixTolerance {
				t.Errorf("%s: %.3g off its maker's printed matrix, whose own rounding explains %.3g", id, d, want.StatedDiffers)
			}
		}
		if cat, ok := cats[want.ToAP0CAT]; want.ToAP0 != nil && ok {
			if d := furthest(RGBToRGB(g, MustGamut("ap0"), cat), *want.ToAP0); d > matrixTolerance {
				t.Errorf("%s to ap0 by %s: %.2g off", id, cat, d)
			}
		}
		if want.ToAP0Stated != nil {
			if d := furthest(RGBToRGB(g, MustGamut("ap0"), CAT16), *want.ToAP0Stated); d > 1e-9 {
				t.Errorf("%s: its printed matrix to ap0 comes back %.2g off", id, d)
			}
		}
		// The stated matrices to BT.709 are Bradford's (README of the check values: AP1's is).
		if want.ToBT709 != nil && (g.W == D65 || id == "ap1" || id == "ap0") {
			if d := furthest(RGBToRGB(g, MustGamut("bt709"), Bradford), *want.ToBT709); d > matrixTolerance {
				t.Errorf("%s to bt709: %.2g off", id, d)
			}
		}
	}
}

func TestPublishedMatrices(t *testing.T) {
	var file struct {
		Cats     map[string]Mat3 `json:"cat_matrices"`
		Examples []struct {
			CAT     string  `json:"cat"`
			From    XYZ     `json:"white_from"`
			To      XYZ     `json:"white_to"`
			Matrix  Mat3    `json:"matrix"`
			Source  string  `json:"source"`
			Differs float64 `json:"max_abs_diff_recomputed"`
		} `json:"cat_examples"`
		RGB map[string]struct {
			Matrix  Mat3    `json:"matrix"`
			Differs float64 `json:"max_abs_diff_derived"`
		} `json:"rgb_matrices_published"`
		Whites map[string]json.RawMessage `json:"whites_XYZ"`
	}
	truthJSON(t, "matrices.json", &file)
	for name, cat := range map[string]CAT{"Bradford": Bradford, "CAT02": CAT02, "CAT16": CAT16} {
		if cat.Matrix() != file.Cats[name] {
			t.Errorf("%s is %v, expected %v", name, cat.Matrix(), file.Cats[name])
		}
	}
	if len(file.Examples) != 8 {
		t.Errorf("%d worked adaptations, expected 8", len(file.Examples))
	}
	for _, e := range file.Examples {
		// Worked examples print seven or eight digits.
		if d := furthest(adaptWith(file.Cats[e.CAT], e.From, e.To), e.Matrix); d > e.Differs*1.001+1e-12 {
			t.Errorf("%s from %v to %v (%s): %.3g off, its printed digits explain %.3g", e.CAT, e.From, e.To, e.Source, d, e.Differs)
		}
	}
	ap0, ap1, bt709, bt2020 := MustGamut("ap0"), MustGamut("ap1"), MustGamut("bt709"), MustGamut("bt2020")
	derived := map[string]Mat3{
		"bt709_to_bt2020":              RGBToRGB(bt709, bt2020, CAT16),
		"ap0_to_ap1":                   RGBToRGB(ap0, ap1, CAT16),
		"ap1_to_ap0":                   RGBToRGB(ap1, ap0, CAT16),
		"xyz_to_ap1":                   ap1.FromXYZ(),
		"xyz_to_ap0":                   ap0.FromXYZ(),
		"xyz_to_bt709":                 bt709.FromXYZ(),
		"ap1_to_linear_bt709_bradford": RGBToRGB(ap1, bt709, Bradford),
	}
	if len(file.RGB) != len(derived) {
		t.Errorf("%d published RGB matrices, expected %d", len(file.RGB), len(derived))
	}
	for name, want := range file.RGB {
		got, ok := derived[strings.Fields(name)[0]]
		if !ok {
			t.Errorf("matrix %q is not derived here", name)
			continue
		}
		if d := furthest(got, want.Matrix); d > want.Differs*1.001+1e-14 {
			t.Errorf("%s: %.3g off the printed matrix, whose rounding explains %.3g", name, d, want.Differs)
		}
	}
}

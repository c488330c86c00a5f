package job

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lampwise/internal/book"
	"lampwise/internal/colour"
	"lampwise/internal/fault"
	"lampwise/internal/gauge"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/region"
	"lampwise/internal/unit"
)

// measureRig writes a short clip of log-420: a grey card of the given stops and
// white in an uneven room, with a camera's noise.
func measureRig(t *testing.T, frames int, stops float64, gain [3]float64) string {
	t.Helper()
	ctx := context.Background()
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		t.Fatal(err)
	}
	format := picture.Format{Width: 320, Height: 180, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
	path := filepath.Join(t.TempDir(), "clip.mov")
	w, err := media.NewWriter(ctx, path, media.WriteOptions{Format: format, Rate: media.Rational{Num: 25, Den: 1}, Codec: media.CodecH264, Quality: 8, Speed: media.SpeedFastest})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	f := picture.NewFrame(format)
	r := rand.New(rand.NewPCG(7, 8))
	slope, offset := curve.SignalFromE(format.Range)
	m := format.Matrix.FromRGB()
	for n := range frames {
		f.Index, f.Time = n, float64(n)/25
		for y := range format.Height {
			for x := range format.Width {
				light := 0.09 * math.Exp2(2*math.Sin(float64(x)/50)) * (1 + 0.4*float64((x/17+y/13)%3))
				if x >= 120 && x < 200 && y >= 60 && y < 120 {
					light = colour.Grey
				}
				var e [3]float64
				for c := range e {
					v := light * math.Exp2(stops) * gain[c]
					v += r.NormFloat64() * math.Sqrt(1e-6+2e-5*v)
					e[c] = (curve.Encode(v) - offset) / slope
				}
				c := m.Apply(e)
				f.Y[y*format.Width+x] = uint16(math.Round(format.Range.LumaToCode(c[0], 10)))
				if x%2 == 0 {
					f.Cb[(y*format.Width+x)/2] = uint16(math.Round(format.Range.ChromaToCode(c[1], 10)))
					f.Cr[(y*format.Width+x)/2] = uint16(math.Round(format.Range.ChromaToCode(c[2], 10)))
				}
			}
		}
		if err := w.Write(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

var cardRegion = region.Region{Name: region.Card, Box: region.Box{X: 0.39, Y: 0.36, W: 0.22, H: 0.28}, Confidence: 1}

// noSets is a store that knows nothing.
type noSets struct{ emptyStore }

// emptyStore gives noSets the rest of the store, which measuring without a set never asks for.
type emptyStore interface{ Sets }

func (noSets) KeepCurveAlias(context.Context, book.CurveAlias) error { return nil }

func (noSets) CurveAlias(context.Context, string) (book.CurveAlias, bool, error) {
	return book.CurveAlias{}, false, nil
}

func TestMeasureReadsTheCardOnTheLadder(t *testing.T) {
	one := [3]float64{1, 1, 1}
	for _, c := range []struct {
		stops    float64
		gain     [3]float64
		intended []string
		want     []string // kinds of problems about card and white
	}{
		{0, one, nil, nil},
		{1.2, one, nil, []string{"exposure-over"}},
		{-0.8, one, nil, []string{"exposure-under"}},
		{1.2, one, []string{"over=1"}, nil},
		{2.2, one, []string{"over=1"}, []string{"exposure-over"}},
		{0, [3]float64{1.25, 1, 0.75}, nil, []string{"white-warm"}},
		{0, [3]float64{1.25, 1, 0.75}, []string{"warm"}, nil},
		{0, [3]float64{0.82, 1, 1.3}, nil, []string{"white-cold"}},
	} {
		clip := measureRig(t, 20, c.stops, c.gain)
		m, err := Measure(context.Background(), noSets{}, MeasureRequest{Clip: clip, Curve: "log-420", Regions: []region.Region{cardRegion}, Intended: c.intended}, nil)
		if err != nil {
			t.Fatal(err)
		}
		card := m.Readings[0]
		// Luminance of a tinted card is the weighted gains' light.
		wr, wg, wb := m.Camera().Gamut.LuminanceWeights()
		want := c.stops + math.Log2(wr*c.gain[0]+wg*c.gain[1]+wb*c.gain[2])
		const tolerance = 0.02 // stop; the codec's
		if card.Region != region.Card || card.Stops == nil || math.Abs(float64(*card.Stops)-want) > tolerance {
			t.Errorf("%+v: the card reads %v, want %.3f", c, card.Stops, want)
		}
		var kinds []string
		for _, p := range m.Problems {
			if strings.HasPrefix(p.Kind, "exposure") || strings.HasPrefix(p.Kind, "white-w") || strings.HasPrefix(p.Kind, "white-c") {
				kinds = append(kinds, p.Kind)
			}
		}
		if !slices.Equal(kinds, c.want) {
			t.Errorf("%+v: problems %v", c, kinds)
		}
		if len(c.intended) > 0 && len(c.want) == 0 && len(m.Intended) == 0 {
			t.Errorf("%+v: what is on purpose isn't told", c)
		}
		if _, err := json.Marshal(m); err != nil {
			t.Error(err)
		}
	}
}

func TestMeasureScreenReadingsAndPlan(t *testing.T) {
	clip := measureRig(t, 40, 0, [3]float64{1, 1, 1})
	m, err := Measure(context.Background(), noSets{}, MeasureRequest{Clip: clip, Curve: "log-420", EveryFrame: true}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if p := m.Plan; p.Decoded != 40 || p.Thin != 1 || !p.Every || p.Share != 1 || len(p.Stretches) != 1 {
		t.Errorf("plan %+v", p)
	}
	if len(m.Preflight) < 5 || m.Preflight[0].Evident {
		t.Errorf("preflight of a clean clip: %+v", m.Preflight)
	}
}

func TestPlanStatesWhatItLooksAt(t *testing.T) {
	for _, c := range []struct {
		count   int
		seconds float64
	}{{1, 0.04}, {250, 10}, {331, 13}, {1500, 60}, {15000, 600}, {90000, 3600}} {
		plan := planOf(c.count, c.seconds, false)
		at, total := 0, 0
		for _, p := range plan {
			if p.from < at || p.to <= p.from || p.to > c.count {
				t.Fatalf("%+v: stretches %v", c, plan)
			}
			at = p.to
			total += p.to - p.from
		}
		if plan[0].from != 0 || plan[len(plan)-1].to != c.count {
			t.Errorf("%+v: the ends are not looked at: %v", c, plan)
		}
		if c.count > 2000 && total > c.count/2 {
			t.Errorf("%+v: %d frames are decoded", c, total)
		}
		if every := planOf(c.count, c.seconds, true); len(every) != 1 || every[0] != (place{0, c.count}) {
			t.Errorf("%+v: every frame is %v", c, every)
		}
	}
	p := MeasurePlan{Frames: 1000, Decoded: 330, Share: 0.33, Stretches: make([][2]float64, 5), Longest: 6.7}
	if w := p.words(); !strings.Contains(w, "330 of 1000") || !strings.Contains(w, "6.7 s") {
		t.Error(w)
	}
}

func TestIntendedIsParsedAndSifted(t *testing.T) {
	for _, bad := range []string{"", "wram", "warm=x", "blown=2", "over=-1", "over=", "over=NaN"} {
		_, err := ParseIntended([]string{bad})
		if f, ok := fault.As(err); !ok || f.Class != fault.Usage || f.Hint == "" {
			t.Errorf("%q: %v", bad, err)
		}
	}
	in, err := ParseIntended([]string{"over=1", " warm"})
	if err != nil || len(in) != 2 || in[0].String() != "over=1" || in[1].String() != "warm" {
		t.Fatalf("%v %v", in, err)
	}
	left, meant := sift([]gauge.Problem{
		{Kind: "exposure-over", Size: 1.2}, {Kind: "exposure-over", Size: 1.6}, {Kind: "exposure-under", Size: -1}, {Kind: "white-warm", Size: 90}, {Kind: "noise"},
	}, in)
	if len(meant) != 2 || len(left) != 3 || left[0].Size != 1.6 {
		t.Errorf("left %+v, meant %+v", left, meant)
	}
	for _, i := range intentions {
		if i.word == "" || i.meaning == "" || len(i.kinds) == 0 || intentionOf(i.word) == nil {
			t.Errorf("%+v", i)
		}
	}
}

func TestPreflightTellsWhatTheClipBetrays(t *testing.T) {
	p := preflight([]gauge.Problem{{Kind: "exposure-jump", What: "the exposure jumps", From: 3}, {Kind: "handling-drift", What: "the picture wanders"}})
	var evident []string
	for _, i := range p {
		if i.Evident {
			evident = append(evident, i.Item)
		}
		if i.Item == "" || i.Set == "" || i.Why == "" {
			t.Errorf("%+v", i)
		}
	}
	if !slices.Equal(evident, []string{"exposure", "sensitivity", "stabiliser"}) || !p[0].Evident {
		t.Errorf("%+v", p)
	}
	s := unit.Stop(2.6)
	if got := exposureProblems([]gauge.Reading{{Region: region.FaceLit, Stops: &s}}, 0, 1); len(got) != 1 || got[0].Kind != "exposure-over" || got[0].Severity != gauge.Note {
		t.Errorf("a bright face: %+v", got)
	}
}

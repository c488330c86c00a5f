package job

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"lampwise/internal/colour"
	"lampwise/internal/grade"
	"lampwise/internal/media"
	"lampwise/internal/picture"
	"lampwise/internal/region"
)

// tintedClip is a wall with detail and a grey card on it, under warm light and
// some stops under, in log-420 with a little noise.
func tintedClip(t *testing.T, path string, stops float64) {
	t.Helper()
	curve, err := colour.CurveByID("log-420")
	if err != nil {
		t.Fatal(err)
	}
	f := picture.Format{Width: 320, Height: 180, Bits: 10, Sub: picture.Sub422, Range: colour.Narrow, Matrix: colour.MatrixBT709, Siting: picture.SiteLeft}
	w, err := media.NewWriter(context.Background(), path, media.WriteOptions{Format: f, Rate: media.Rational{Num: 25, Den: 1}, Codec: media.CodecH264, Lossless: true, Speed: media.SpeedFast, Primaries: "unknown", Transfer: "unknown"})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	noise := rand.New(rand.NewPCG(3, 4))
	slope, offset := curve.SignalFromE(colour.Narrow)
	light := [3]float64{1.25, 1, 0.7}
	gain := math.Exp2(stops)
	kr, kg, kb := colour.MatrixBT709.Weights()
	for n := range 6 {
		frame := picture.NewFrame(f)
		frame.Index, frame.Time = n, float64(n)/25
		for y := range f.Height {
			for x := range f.Width {
				v := colour.Grey * math.Exp2(-3+5*float64(x)/float64(f.Width)+0.3*math.Sin(float64(x*y)/700))
				if x >= 32 && x < 96 && y >= 18 && y < 54 {
					v = colour.Grey
				}
				var e [3]float64
				for i := range e {
					e[i] = (curve.Encode(v*gain*light[i])-offset)/slope + 0.001*noise.NormFloat64()
				}
				luma := kr*e[0] + kg*e[1] + kb*e[2]
				frame.Y[y*f.Width+x] = uint16(math.Round(colour.Narrow.LumaToCode(luma, 10)))
				if x%2 == 0 {
					c := y*f.Width/2 + x/2
					frame.Cb[c] = uint16(math.Round(512 + 896*(e[2]-luma)/(2*(1-kb))))
					frame.Cr[c] = uint16(math.Round(512 + 896*(e[0]-luma)/(2*(1-kr))))
				}
			}
		}
		if err := w.Write(frame); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// What is printed as settings is what --apply writes, the card lands where it
// belongs, and what was taken isn't suggested again.
func TestSuggestedSettingsAreWhatApplyWrites(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	folder := t.TempDir()
	clip, file := filepath.Join(folder, "a.mp4"), filepath.Join(folder, "g.toml")
	tintedClip(t, clip, -1)
	g := grade.Starting("log-420")
	g.SetOff(grade.StageLook, true)
	g.SetOff(grade.StageSplit, true)
	g.SetOff(grade.StageVignette, true)
	card, err := region.Parse("card=11,11,16,16")
	if err != nil {
		t.Fatal(err)
	}
	ask := func(apply ...string) *Suggested {
		t.Helper()
		s, err := Suggest(context.Background(), nil, SuggestRequest{Clip: clip, Grade: file, Regions: []region.Region{card}, Apply: apply, Face: SuggestFace, Strength: SuggestStrength, Skin: SuggestSkin}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	fresh := func() []byte {
		t.Helper()
		if err := g.Save(file); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	before := fresh()
	all := ask()
	if after, _ := os.ReadFile(file); !bytes.Equal(before, after) {
		t.Fatal("the grade was written unasked")
	}
	changes := 0
	for _, s := range all.Suggestions {
		if !s.Change {
			continue
		}
		changes++
		fresh()
		ask(string(s.Stage))
		applied, err := grade.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		fresh()
		byHand, err := grade.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range s.Settings {
			if err := byHand.Set(x); err != nil {
				t.Fatalf("%s: %v", x, err)
			}
		}
		if !bytes.Equal(applied.Bytes(), byHand.Bytes()) {
			t.Errorf("%s: what is printed is not what is applied:\n%s\n%s", s.Stage, byHand.Bytes(), applied.Bytes())
		}
	}
	if changes < 4 {
		t.Errorf("only %d suggestions for a dark and warm clip", changes)
	}
	fresh()
	taken := ask("exposure", "balance")
	i := slices.IndexFunc(taken.Suggestions, func(s Suggestion) bool { return s.Stage == grade.StageExposure })
	after := taken.Suggestions[i+1].After
	for _, r := range after {
		if r.Region == region.Card && (math.Abs(r.Signal-100*grade.GreySignal) > 1.5 || r.Chroma > 1.5) {
			t.Errorf("the card shows %.1f %% and chroma %.2f, wanted %.1f %% and none", r.Signal, r.Chroma, 100*grade.GreySignal)
		}
	}
	for _, s := range ask().Suggestions[:2] {
		if s.Change {
			t.Errorf("%s is suggested again: %v", s.Stage, s.Settings)
		}
	}
}

// A clip of the same scene half a stop under and warmer is brought together
// with another but for the noise.
func TestMatchBringsTwoClipsTogether(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	folder := t.TempDir()
	a, b, file := filepath.Join(folder, "a.mp4"), filepath.Join(folder, "b.mp4"), filepath.Join(folder, "g.toml")
	tintedClip(t, a, -1)
	tintedClip(t, b, -0.4)
	if err := grade.Starting("log-420").Save(file); err != nil {
		t.Fatal(err)
	}
	if err := writeLook(filepath.Join(folder, grade.LookFile)); err != nil {
		t.Fatal(err)
	}
	var regions []region.Region
	for _, x := range []string{"card=11,11,16,16", "wall=50,40,10,20", "shelf=80,40,10,20"} {
		r, err := region.Parse(x)
		if err != nil {
			t.Fatal(err)
		}
		regions = append(regions, r)
	}
	m, err := Match(context.Background(), nil, MatchRequest{Clip: a, To: b, Grade: file, Regions: regions, Out: filepath.Join(folder, "a.toml")}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(m.Exposure-0.6) > 0.02 || m.Mired == nil || math.Abs(*m.Mired) > 2 {
		t.Errorf("exposure %+.3f, mired %v; 0.6 and 0 were planted", m.Exposure, m.Mired)
	}
	if m.After.Max > 0.5 || m.Before.Max < 3 {
		t.Errorf("ΔE00 at most %.2f before, %.2f after", m.Before.Max, m.After.Max)
	}
	if _, err := grade.Load(m.Out); err != nil {
		t.Fatal(err)
	}
}

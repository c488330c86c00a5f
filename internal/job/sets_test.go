package job

import (
	"math"
	"strings"
	"testing"

	"lampwise/internal/book"
	"lampwise/internal/fault"
	"lampwise/internal/lamps"
)

func someSettings() book.SetSettings {
	return book.SetSettings{
		Schema: setSchema, Clip: book.SetClip{Curve: "log-420", Gamut: "bt709"},
		Lamps:   []book.SetLamp{{Name: "key", Level: 0.5}, {Name: "fill", Level: 1}},
		Regions: []book.SetRegion{{Name: "card", X: 0.1, Y: 0.1, W: 0.2, H: 0.2}},
	}
}

func TestTakeDimmerLeavesTheMix(t *testing.T) {
	pictures, err := packSeparation(someSeparation())
	if err != nil {
		t.Fatal(err)
	}
	set, err := openedSet(book.Set{Name: "garage", Settings: someSettings()}, pictures)
	if err != nil {
		t.Fatal(err)
	}
	before := set.PictureOf(set.Mix)
	table, err := parseDimmerTable([]byte("25 12\n50 36 # half\n\n75;66\n"), "key.txt")
	if err != nil {
		t.Fatal(err)
	}
	if err := useTables(set, map[string]*DimmerTable{"key": table}); err != nil {
		t.Fatal(err)
	}
	after := set.PictureOf(set.Mix)
	for i, v := range before.Pix {
		if math.Abs(float64(after.Pix[i]-v)) > 1e-5 {
			t.Fatalf("sample %d of the mix was %g, is %g", i, v, after.Pix[i])
		}
	}
	if math.Abs(set.Mix[0]-0.36) > 1e-6 || !set.Lamps[0].Measured || math.Abs(set.Lamps[0].Dimmer.Setting(set.Mix[0])-0.5) > 1e-6 {
		t.Errorf("level %g, dimmer %g", set.Mix[0], set.Lamps[0].Dimmer.Setting(set.Mix[0]))
	}
	if err := useTables(set, map[string]*DimmerTable{"rim": table}); err == nil {
		t.Error("a lamp that isn't there took a dimmer")
	}
}

func TestDimmerTableSaysWhere(t *testing.T) {
	for _, c := range []struct{ text, says string }{
		{"", "holds no setting"},
		{"50 36\n60", "key.txt:2: has 1 numbers"},
		{"50 36\nsixty 40", `key.txt:2: "sixty"`},
		{"50 136", `key.txt:1: "136"`},
		{"50 NaN", `key.txt:1: "NaN"`},
		{"50 36\n60 30", "doesn't rise"},
	} {
		_, err := parseDimmerTable([]byte(c.text), "key.txt")
		if f, ok := fault.As(err); !ok || !strings.Contains(f.Message, c.says) || f.Hint == "" {
			t.Errorf("%q: %v", c.text, err)
		}
	}
}

func TestAdviceIsLargestFirst(t *testing.T) {
	pictures, err := packSeparation(someSeparation())
	if err != nil {
		t.Fatal(err)
	}
	set, err := openedSet(book.Set{Name: "garage", Settings: someSettings()}, pictures)
	if err != nil {
		t.Fatal(err)
	}
	r := &lamps.CheckReport{Outcome: lamps.OutcomeDrift, Lamps: []lamps.LampCheck{
		{Name: "key", Finding: lamps.Brighter, Stops: 0.25, Act: true},
		{Name: "fill", Finding: lamps.Off, Share: 0.3},
	}}
	got := adviseOn(set, r, &Checked{})
	if len(got) != 2 || !strings.HasPrefix(got[0], "fill is off") || !strings.Contains(got[1], "key is 0.25 stop brighter: turn it down until card reads") {
		t.Errorf("%q", got)
	}
	set.Lamps[0].Measured = true // an even dimmer, known
	got = adviseOn(set, r, &Checked{})
	// 50 % of an even dimmer, 0.25 stop down: 50 · 2^−0.25 = 42.0 %.
	if !strings.Contains(got[1], "turn it from 50 to 42 %") {
		t.Errorf("%q", got)
	}
}

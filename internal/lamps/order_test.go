package lamps

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lampwise/internal/fault"
)

func TestParseOrder(t *testing.T) {
	tests := []struct {
		text  string
		lamps []string
		want  [][]float64
	}{
		{"all, -key, all, -rim", []string{"key", "rim"}, [][]float64{{1, 1}, {0, 1}, {1, 1}, {1, 0}}},
		{"dark, key, rim", []string{"key", "rim"}, [][]float64{{0, 0}, {1, 0}, {0, 1}}},
		{"dark, key, rim, key+rim", []string{"key", "rim"}, [][]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}}},
		{"key=50%, rim, all+key=25%, all", []string{"key", "rim"}, [][]float64{{.5, 0}, {0, 1}, {.25, 1}, {1, 1}}},
		{"-key -rim, tail-lamp, -key+rim=40%", []string{"key", "rim", "tail-lamp"}, [][]float64{{0, 0, 1}, {0, 0, 1}, {0, .4, 1}}},
		{"all -key,  rim", []string{"key", "rim"}, [][]float64{{0, 1}, {0, 1}}},
		{"−key, rim", []string{"key", "rim"}, [][]float64{{0, 1}, {0, 1}}},
		{"key + rim=12.5%", []string{"key", "rim"}, [][]float64{{1, .125}}},
	}
	for _, tt := range tests {
		o, err := ParseOrder(tt.text, nil)
		if err != nil {
			t.Errorf("%q: %v", tt.text, err)
			continue
		}
		if !slices.Equal(o.Lamps, tt.lamps) {
			t.Errorf("%q: lamps %v, want %v", tt.text, o.Lamps, tt.lamps)
		}
		for s, h := range o.Holds {
			if !slices.Equal(h.Setting, tt.want[s]) {
				t.Errorf("%q hold %d: %v, want %v", tt.text, s+1, h.Setting, tt.want[s])
			}
		}
	}
}

func TestParseOrderRefuses(t *testing.T) {
	known := []string{"key", "fill", "rim", "tail-lamp"}
	tests := []struct {
		text  string
		known bool
		say   string // in the message or the hint
	}{
		{"", false, "is empty"},
		{"all,, -key", false, "hold 2 of the order is empty"},
		{"all", false, "names no lamp"},
		{"all, -kay", true, `did you mean "key"?`},
		{"all, -tail", true, "the lamps are key, fill, rim, tail-lamp"},
		{"key rim", false, "a sign is missing"},
		{"key++rim", false, "two signs"},
		{"+key", false, "begins with a plus"},
		{"key+", false, "ends in a sign"},
		{"key, rim, -key-rim", false, "with a space"},
		{"key=50", false, "no per cent sign"},
		{"key=0%", false, "not above 0"},
		{"key=101%", false, "not above 0"},
		{"key=1e1%", false, "no per cent"},
		{"key=NaN%", false, "not above 0"},
		{"-key=50%", false, "has a level"},
		{"dark+key", false, "dark with a lamp on"},
		{"key+all", false, "isn't first"},
		{"key+key", false, "twice"},
		{"key -rim", false, "one by one"},
		{"all+key", false, "is on already"},
		{"key, Key", false, "capitals"},
		{"off, key", false, `"dark" for every lamp off`},
		{"all=50%, key", false, "no sign and no level"},
		{"ambient, key", false, "can't be a lamp's name"},
		{"ke/y", false, "has '/' in it"},
		{"a,b,c,d,e,f,g,h,i,j,k,l,m", false, "more than 12"},
		{strings.Repeat("key,", 64) + "key", false, "65 holds"},
		{strings.Repeat("k", 33), false, "too long"},
		{strings.Repeat("key,", 1100), false, "4400 characters"},
	}
	for _, tt := range tests {
		var names []string
		if tt.known {
			names = known
		}
		_, err := ParseOrder(tt.text, names)
		f, ok := fault.As(err)
		if !ok {
			t.Errorf("%q: %v is no fault", tt.text, err)
			continue
		}
		if !strings.Contains(f.Message+" | "+f.Hint, tt.say) {
			t.Errorf("%q: says %q, hint %q; want %q in it", tt.text, f.Message, f.Hint, tt.say)
		}
		if f.Hint == "" || strings.Contains(f.Message, "\n") {
			t.Errorf("%q: %q needs a hint and one line", tt.text, f.Message)
		}
	}
}

// What String writes, ParseOrder reads back to the same holds.
func TestOrderRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := rapid.SliceOfNDistinct(rapid.StringMatching(`[a-z][a-z0-9_]{0,5}(-[a-z]{1,4})?`), 1, MaxLamps, rapid.ID[string]).
			Filter(func(n []string) bool {
				for _, name := range n {
					if CheckLampName(name) != nil {
						return false
					}
				}
				return true
			}).Draw(t, "names")
		o := &Order{Lamps: names}
		for range rapid.IntRange(1, 20).Draw(t, "holds") {
			o.Holds = append(o.Holds, OrderHold{Setting: rapid.SliceOfN(rapid.SampledFrom([]float64{0, 1, 1, 0, .5, .125}), len(names), len(names)).Draw(t, "setting")})
		}
		text := o.String()
		back, err := ParseOrder(text, names)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		for s := range o.Holds {
			if !slices.Equal(o.Holds[s].Setting, back.Holds[s].Setting) {
				t.Fatalf("%q hold %d: %v, want %v", text, s, back.Holds[s].Setting, o.Holds[s].Setting)
			}
		}
	})
}

func FuzzParseOrder(f *testing.F) {
	for _, s := range []string{
		"all, -key, all, -rim", "dark, key, rim, key+rim", "key=50%, all+key=25%", "-key -rim", "−key", "a-b, -a-b",
		"all -key", "key=1e309%", "=50%", "+", "-", "--", "\x00", "é=5%", "key=50%%", "all,all", "dark+", "ALL, key",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		o, err := ParseOrder(s, nil)
		if err != nil {
			if _, ok := fault.As(err); !ok {
				t.Fatalf("%q: %v is no fault", s, err)
			}
			return
		}
		back, err := ParseOrder(o.String(), o.Lamps)
		if err != nil || back.String() != o.String() {
			t.Fatalf("%q → %q: %v", s, o.String(), err)
		}
	})
}

func mustOrder(t testing.TB, text string) *Order {
	t.Helper()
	o, err := ParseOrder(text, nil)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func TestRank(t *testing.T) {
	tests := []struct {
		text     string
		rank     int
		together [][]string
		add      []string
	}{
		{"all, -key, -rim", 3, nil, nil},
		{"dark, key, rim", 3, nil, nil},
		{"key, rim", 2, [][]string{{"key", "rim", wordAmbient}}, []string{"dark"}},
		{"all, key+fill, all, rim, dark", 3, [][]string{{"key", "fill"}}, []string{"-key"}},
		{"all, dark, -key -fill -rim, key", 3, [][]string{{"fill", "rim"}}, []string{"-fill"}},
		{"all, dark, key+fill", 2, [][]string{{"key", "fill"}}, []string{"fill"}},
		{"key=50%, key, rim", 3, nil, nil},
		{"key+fill, rim+tube, all, dark", 3, [][]string{{"key", "fill"}, {"rim", "tube"}}, []string{"-key", "-rim"}},
	}
	for _, tt := range tests {
		r := mustOrder(t, tt.text).Design(nil).Rank()
		if r.Rank != tt.rank || !slices.EqualFunc(r.Together, tt.together, slices.Equal) || !slices.Equal(r.Add, tt.add) {
			t.Errorf("%q: %+v, want rank %d, together %v, add %v", tt.text, r, tt.rank, tt.together, tt.add)
		}
		if r.Full() != (r.Err() == nil) {
			t.Errorf("%q: full %v but %v", tt.text, r.Full(), r.Err())
		}
	}
	err := mustOrder(t, "all, dark, key+fill, -key -fill").Design(nil).Rank().Err()
	f, _ := fault.As(err)
	if f == nil || f.Class != fault.Unsure || !strings.Contains(f.Message, "key and fill") || !strings.Contains(f.Hint, `"fill"`) {
		t.Errorf("got %+v", f)
	}
}

// For any order, the rank agrees with gonum's singular values and the holds
// proposed do complete it.
func TestRankAgainstSingularValues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "lamps")
		d := &Design{Lamps: []string{"a", "b", "c", "d", "e", "f"}[:n]}
		for range rapid.IntRange(1, 10).Draw(t, "holds") {
			d.Level = append(d.Level, rapid.SliceOfN(rapid.SampledFrom([]float64{0, 1, .5}), n, n).Draw(t, "row"))
		}
		r := d.Rank()
		var svd rankBySVD
		if want := svd.rank(d.Matrix()); r.Rank != want {
			t.Fatalf("rank %d, singular values say %d: %v", r.Rank, want, d.Level)
		}
		for _, text := range r.Add {
			o, err := ParseOrder(text, d.Lamps)
			if err != nil {
				t.Fatal(err)
			}
			d.Level = append(d.Level, o.Holds[0].Setting)
		}
		if again := d.Rank(); !again.Full() {
			t.Fatalf("adding %v leaves rank %d of %d", r.Add, again.Rank, again.Columns)
		}
	})
}

func TestDimmer(t *testing.T) {
	d, err := NewDimmer([]DimmerPoint{{Setting: .5, Level: .18}, {Setting: .25, Level: .03}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []DimmerPoint{{Setting: 0}, {Setting: .25, Level: .03}, {Setting: .5, Level: .18}, {Setting: 1, Level: 1}} {
		if got := d.Level(p.Setting); got < p.Level-1e-12 || got > p.Level+1e-12 {
			t.Errorf("level at %g: %g, want %g", p.Setting, got, p.Level)
		}
	}
	last := 0.0
	for i := 0; i <= 1000; i++ {
		s := float64(i) / 1000
		l := d.Level(s)
		if l < last {
			t.Fatalf("falls at %g", s)
		}
		last = l
		if l > 0 && l < 1 {
			if back := d.Level(d.Setting(l)); back < l-1e-6 || back > l+1e-6 {
				t.Fatalf("setting(%g) gives %g", l, back)
			}
		}
	}
	for _, bad := range [][]DimmerPoint{
		{{Setting: .5, Level: .6}, {Setting: .6, Level: .5}},
		{{Setting: .5, Level: .6}, {Setting: .5, Level: .6}},
		{{Setting: 1.5, Level: .6}},
		{{Setting: .5, Level: -1}},
		make([]DimmerPoint, 300),
	} {
		if _, err := NewDimmer(bad); err == nil {
			t.Errorf("%v is taken", bad[:1])
		}
	}
	var linear *Dimmer
	if linear.Level(.3) != .3 || linear.Setting(.3) != .3 {
		t.Error("no dimmer curve isn't linear")
	}
}

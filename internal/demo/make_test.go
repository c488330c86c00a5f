package demo

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"lampwise/internal/fault"
	"lampwise/internal/media"
)

// TestMake makes a small example and holds its files to its truth.
func TestMake(t *testing.T) {
	dir := t.TempDir()
	var last, of int
	made, err := Make(context.Background(), Options{Dir: dir, Size: 136, Seconds: 0.6, Fine: 0.4, Seed: 5}, func(done, total int, what string) {
		if done < last || done > total || what == "" {
			t.Errorf("progress went from %d to %d of %d (%q)", last, done, total, what)
		}
		last, of = done, total
	})
	if err != nil {
		t.Fatal(err)
	}
	if last != of {
		t.Errorf("progress ended at %d of %d", last, of)
	}
	var truth Truth
	b, err := os.ReadFile(made.Truth)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &truth); err != nil {
		t.Fatal(err)
	}
	files := map[string]string{}
	for _, c := range truth.Clips {
		files[c.Name] = filepath.Join(dir, c.File)
		info, err := media.Probe(context.Background(), files[c.Name])
		if err != nil {
			t.Fatal(err)
		}
		v := info.Video
		if v.Frames != c.Frames || v.Width != truth.Width || v.Height != truth.Height || v.Bits != 10 || v.Sub != "4:2:2" || v.Range != "narrow" {
			t.Errorf("%s: %d frames %d×%d %d bit %s %s", c.File, v.Frames, v.Width, v.Height, v.Bits, v.Sub, v.Range)
		}
		if len(info.Audio) != 1 || info.Timecode == "" {
			t.Errorf("%s: %d sound tracks, timecode %q", c.File, len(info.Audio), info.Timecode)
		}
		if n := c.Levels[len(c.Levels)-1].Last; n != c.Frames-1 {
			t.Errorf("%s: levels are told to frame %d of %d", c.File, n, c.Frames)
		}
	}
	if made.Switch != files["switch"] || made.Episodes != [2]string{files["episode-1"], files["episode-2"]} {
		t.Errorf("files are %v, told are %s and %v", files, made.Switch, made.Episodes)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*.wav")); len(left) > 0 {
		t.Errorf("left over: %v", left)
	}
	checkPictures(t, made, &truth)
	checkReadBack(t, made, &truth)
}

// checkPictures holds the lamp pictures' file to the readings.
func checkPictures(t *testing.T, made *Made, truth *Truth) {
	b, err := os.ReadFile(made.Pictures)
	if err != nil {
		t.Fatal(err)
	}
	p := truth.Pictures
	if len(b) != len(p.Names)*p.Width*p.Height*12 {
		t.Fatalf("the lamp pictures are %d bytes", len(b))
	}
	card := truth.Regions["card"]
	x0, y0 := int(card[0]/2)+1, int(card[1]/2)+1
	x1, y1 := int((card[0]+card[2])/2), int((card[1]+card[3])/2)
	var sum, n float64
	for l := range p.Names {
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				at := ((l*p.Height+y)*p.Width+x)*12 + 4
				sum += float64(math.Float32frombits(binary.LittleEndian.Uint32(b[at:])))
				if l == 0 {
					n++
				}
			}
		}
	}
	if got, want := sum/n, truth.Readings["card"].RGB[1]; math.Abs(got/want-1) > 0.03 {
		t.Errorf("the lamp pictures add up to %.4f on the card, its reading is %.4f", got, want)
	}
}

// checkReadBack decodes the first hold of the switch clip and compares it with
// the linear pictures, pixel by pixel away from the mechanic.
func checkReadBack(t *testing.T, made *Made, truth *Truth) {
	s, err := NewStudio(context.Background(), StudioOptions{Height: truth.Height, Seed: 1, Fine: 0.4}, nil)
	if err != nil {
		t.Fatal(err)
	}
	c := exampleCamera(t, s.Width, s.Height)
	clip := truth.Clips[0]
	// The last frames of the last "all" hold: warmed up, focus at rest.
	h := clip.Holds[len(clip.Holds)-2]
	first := h.Last - 7
	got := readLinear(t, made.Switch, c, first, h.Last)
	var levels []float64
	for _, r := range clip.Levels {
		if r.First <= h.Last {
			levels = r.Levels
		}
	}
	mix := s.Mix(levels)
	var off, signal, n float64
	for y := 2; y < s.Height-2; y++ {
		for x := 2; x < s.Width-2; x++ {
			if s.moves(x, y) {
				continue
			}
			at := 3 * (y*s.Width + x)
			want := c.Expose([3]float64{float64(mix[at]), float64(mix[at+1]), float64(mix[at+2])})
			// Green is nearly luma: chroma's halved width matters least there.
			off += got[at+1] - want[1]
			signal += want[1]
			n++
		}
	}
	if n < 5000 {
		t.Fatalf("only %g pixels compared", n)
	}
	// Noise averages out over thousands of pixels and eight frames (each some
	// 5 %, so under 0.1 %); what's left is the mean of a log of noise (the
	// noise reduction works on codes: some per mille) and the codec.
	if math.Abs(off/signal) > 0.01 {
		t.Errorf("the clip reads %.2f %% off the linear picture", 100*off/signal)
	}
	for _, name := range []string{"card", "background"} {
		r := truth.Regions[name]
		var g, w float64
		for y := int(r[1]) + 1; y < int(r[1]+r[3]); y++ {
			for x := int(r[0]) + 1; x < int(r[0]+r[2]); x++ {
				at := 3 * (y*s.Width + x)
				want := c.Expose([3]float64{float64(mix[at]), float64(mix[at+1]), float64(mix[at+2])})
				g += got[at+1]
				w += want[1]
			}
		}
		if math.Abs(g/w-1) > 0.025 {
			t.Errorf("%s reads %.4f in the clip, %.4f in the linear picture", name, g, w)
		}
	}
}

// TestMakeRefusals: what a user can ask wrongly is said in a line.
func TestMakeRefusals(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		o    Options
		code string
	}{
		{Options{}, "demo-folder"},
		{Options{Dir: "x", Size: 1081}, "demo-size"},
		{Options{Dir: "x", Size: 20}, "demo-size"},
		{Options{Dir: "x", Size: 4320}, "demo-size"},
		{Options{Dir: filepath.Join(file, "in"), Size: 90}, "demo-folder"},
	} {
		_, err := Make(context.Background(), c.o, nil)
		if f, ok := fault.As(err); !ok || f.Code != c.code {
			t.Errorf("%+v: %v, wanted the fault %s", c.o, err, c.code)
		}
	}
	_, err := Make(context.Background(), Options{Dir: t.TempDir(), Size: 90, Curve: "log-421", Fine: 0.2}, nil)
	if _, ok := fault.As(err); !ok {
		t.Errorf("an unknown curve: %v", err)
	}
}

// TestMakeCancelled: stopped while filming, nothing bears a final name.
func TestMakeCancelled(t *testing.T) {
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	_, err := Make(ctx, Options{Dir: dir, Size: 90, Seconds: 0.5, Fine: 0.2}, func(_, _ int, what string) {
		if what == "filming switch.mov" {
			cancel()
		}
	})
	if f, ok := fault.As(err); !ok || f.Class != fault.Cancelled {
		t.Fatalf("stopped while filming: %v", err)
	}
	left, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range left {
		t.Errorf("left behind: %s", e.Name())
	}
}

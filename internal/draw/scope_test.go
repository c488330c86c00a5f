package draw

import (
	"bytes"
	"encoding/base64"
	"image/color"
	"image/png"
	"strings"
	"testing"
)

func testScope() *Scope {
	count := make([]uint32, 16*16)
	for i := range count {
		count[i] = uint32(i % 7)
	}
	return &Scope{
		Title: "Waveform", Note: "a note", Left: Ticks{"code", []Tick{{At: 0, Name: "0"}, {At: 1, Name: "1023"}}}, Right: Ticks{"stops", []Tick{{At: 0.4, Name: "grey", Strong: true}}},
		Panels: []Panel{{Name: "luma", W: 16, H: 16, Count: count, Lines: []Stroke{{X0: -1, Y0: 0.5, X1: 2, Y1: 0.5, Width: 1}, {X0: 2, Y0: 2, X1: 3, Y1: 3, Width: 1}}}},
		Bottom: Ticks{At: []Tick{{At: 0.5, Name: "middle"}}},
	}
}

func TestScopeStaysInItsPictureAndItsPanel(t *testing.T) {
	s := testScope()
	w, h := s.Size()
	if w != 600 {
		t.Errorf("a scope is %g pixels wide", w)
	}
	r, err := NewRaster(int(w), int(h))
	if err != nil {
		t.Fatal(err)
	}
	s.Draw(r)
	if r.RGBAAt(int(scopeSide)+200, int(scopeTop)+200) == Ground {
		t.Error("nothing was drawn in the panel")
	}
	// The line that runs out of the panel ends at its border: the free stretch
	// between the panel and the right scale's names stays as it was.
	x, y := int(w-scopeRight)+3, int(scopeTop+scopeTall/2)
	for dy := -2; dy <= 2; dy++ {
		if r.RGBAAt(x, y+dy) != Ground {
			t.Errorf("the pixel %d, %d beside the panel is %v", x, y+dy, r.RGBAAt(x, y+dy))
		}
	}
	v := NewSVG(w, h)
	s.Draw(v)
	for _, name := range []string{"Waveform", "grey", "1023", "middle", "a note"} {
		if !bytes.Contains(v.Bytes(), []byte(">"+name+"<")) {
			t.Errorf("the drawing lacks %q", name)
		}
	}
}

func TestStrokeIsCutAtThePanel(t *testing.T) {
	for _, c := range []struct {
		in, out Stroke
		ok      bool
	}{
		{Stroke{X0: -1, Y0: 0.5, X1: 2, Y1: 0.5}, Stroke{X0: 0, Y0: 0.5, X1: 1, Y1: 0.5}, true},
		{Stroke{X0: 0.2, Y0: 0.2, X1: 0.8, Y1: 0.4}, Stroke{X0: 0.2, Y0: 0.2, X1: 0.8, Y1: 0.4}, true},
		{Stroke{X0: 0.5, Y0: 0.5, X1: 0.5, Y1: 3}, Stroke{X0: 0.5, Y0: 0.5, X1: 0.5, Y1: 1}, true},
		{Stroke{X0: 2, Y0: 0, X1: 2, Y1: 1}, Stroke{}, false},
		{Stroke{X0: -1, Y0: 0.5, X1: 0.5, Y1: 3}, Stroke{}, false},
	} {
		got, ok := c.in.inside()
		if ok != c.ok || ok && got != c.out {
			t.Errorf("%+v → %+v %v, want %+v %v", c.in, got, ok, c.out, c.ok)
		}
	}
}

// Cells go into a drawing as one picture, which holds each where it lies.
func TestCellsOfADrawing(t *testing.T) {
	s := testScope()
	w, h := s.Size()
	v := NewSVG(w, h)
	s.Draw(v)
	_, rest, ok := strings.Cut(string(v.Bytes()), "data:image/png;base64,")
	if !ok {
		t.Fatal("the drawing holds no picture")
	}
	data, _, _ := strings.Cut(rest, `"`)
	im, err := png.Decode(base64.NewDecoder(base64.StdEncoding, strings.NewReader(data)))
	if err != nil {
		t.Fatal(err)
	}
	p := &s.Panels[0]
	if b := im.Bounds(); b.Dx() != p.W || b.Dy() != p.H {
		t.Fatalf("the picture is %v", b)
	}
	seen := map[uint32]color.Color{}
	for i, n := range p.Count {
		got := im.At(i%p.W, p.H-1-i/p.W)
		_, _, _, alpha := got.RGBA()
		if (n > 0) != (alpha > 0) {
			t.Fatalf("cell %d of %d samples is %v", i, n, got)
		}
		if before, known := seen[n]; known && before != got {
			t.Fatalf("cell %d of %d samples is %v, another is %v", i, n, got, before)
		}
		seen[n] = got
	}
	if len(seen) != 7 || seen[1] == seen[6] {
		t.Errorf("counts of 0 to 6 look like %v", seen)
	}
}

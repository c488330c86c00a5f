package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/color"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"
)

func someLadder() *Ladder {
	return &Ladder{
		Title: "set garage & more", Clip: 5.2, Floor: -7,
		Columns: []Column{{Name: "face-lit", Mix: 0.87, Marks: []Mark{{0, "key", 0.8}, {1, "fill", -3.6}, {-1, "ambient", -5}, {2, "<rim>", math.NaN()}}}},
		Rungs:   []Rung{{0, 0, 0.41}, {1, 1.3, 0.6}, {-8, -24, 0}},
	}
}

func TestLadderAsSVG(t *testing.T) {
	l := someLadder()
	w, h := l.Size()
	s := NewSVG(w, h)
	l.Draw(s)
	// It is well-formed and says what it shows.
	d := xml.NewDecoder(bytes.NewReader(s.Bytes()))
	var text strings.Builder
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if c, ok := tok.(xml.CharData); ok {
			text.Write(c)
		}
	}
	for _, want := range []string{"set garage & more", "key +0.8", "mix +0.87", "clipped from +5.2", "grey 0", "41 %", "ambient -5.0"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the ladder doesn't say %q", want)
		}
	}
	if strings.Contains(text.String(), "NaN") {
		t.Error("a lamp that gives nothing is marked")
	}
}

func TestLadderAsPixels(t *testing.T) {
	l := someLadder()
	w, h := l.Size()
	r, err := NewRaster(int(w), int(h))
	if err != nil {
		t.Fatal(err)
	}
	l.Draw(r)
	data, err := r.PNG()
	if err != nil {
		t.Fatal(err)
	}
	im, err := png.Decode(bytes.NewReader(data))
	if err != nil || im.Bounds().Dx() != int(w) {
		t.Fatalf("%v, %v", im.Bounds(), err)
	}
	// The key's mark has the key's colour where its reading lies.
	_, hi := l.reach()
	y := ladderTop + ladderStop*(hi-0.8)
	got := color.RGBAModel.Convert(im.At(int(ladderLeft+24), int(y))).(color.RGBA)
	if got != Lamp(0) && got != Ink {
		t.Errorf("at the key's reading stands %v", got)
	}
}

func TestLampsDifferWithoutColour(t *testing.T) {
	const n = 56
	for i := range 12 {
		for j := range i {
			same := true
			for p := range n * n {
				if Patterned(i, p%n, p/n) != Patterned(j, p%n, p/n) {
					same = false
				}
			}
			if same {
				t.Errorf("lamps %d and %d have one pattern", i, j)
			}
		}
	}
}

package draw

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"
)

func TestPaperIsWellFormed(t *testing.T) {
	p := NewPaper(297, 210)
	p.Shape([][2]float64{{1, 1}, {5, 1}, {5, 5}}, Style{Stroke: Black, Width: 0.3, Hatch: true})
	p.Shape([][2]float64{{1, 1}, {5, 1}}, Style{Stroke: Black, Width: 0.3, Dash: []float64{1, 2}, Open: true})
	p.Circle(20, 20, 3, Style{Fill: Tint, Opacity: 0.5})
	p.Words(10, 10, 3, Start, Black, "a < b & \"c\"")
	data := string(p.Bytes())
	d := xml.NewDecoder(strings.NewReader(data))
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{`width="297mm"`, `viewBox="0 0 297.00 210.00"`, "a &lt; b &amp;", "stroke-dasharray"} {
		if !strings.Contains(data, want) {
			t.Errorf("no %q", want)
		}
	}
}

// Labels keep clear of each other and of what is marked as taken, and stay in
// their frame, while there is room.
func TestLabelsKeepClear(t *testing.T) {
	p := NewPaper(200, 200)
	p.Keep(90, 90, 110, 110)
	frame := [4]float64{0, 0, 200, 200}
	for range 8 {
		p.Label(100, 100, 10, 3, Black, "subject", frame)
	}
	p.Label(1, 1, 2, 3, Black, "in the corner", frame)
	boxes := p.boxes
	for i, a := range boxes {
		for _, b := range boxes[:i] {
			if a[0] < b[2]-1e-9 && b[0] < a[2]-1e-9 && a[1] < b[3]-1e-9 && b[1] < a[3]-1e-9 {
				t.Errorf("%v lies on %v", a, b)
			}
		}
		if a[0] < 0 || a[1] < 0 || a[2] > 200 || a[3] > 200 {
			t.Errorf("%v leaves the sheet", a)
		}
	}
}

package job

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"
)

// The printed ladder is whole, and tells every place, its doubt and every lamp.
func TestLadderTellsAll(t *testing.T) {
	p, _ := planned(t, planText+"\n")
	p.scene.Plan.Targets = []string{"face-lit=+0.5 ±0.2"}
	svg := string(drawLadder(p))
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, r := range p.Readings {
		if !strings.Contains(svg, ">"+r.Region+"<") {
			t.Errorf("%s is missing", r.Region)
		}
	}
	if n := strings.Count(svg, "±0.5<"); n != len(p.Readings) {
		t.Errorf("%d readings of %d tell their doubt", n, len(p.Readings))
	}
	for i := range p.Lamps {
		if !strings.Contains(svg, p.Lamps[i].Name) {
			t.Errorf("lamp %s is missing", p.Lamps[i].Name)
		}
	}
	// The bracket is two open lines more than without it.
	p.scene.Plan.Targets = nil
	if a, b := strings.Count(svg, "<path")+strings.Count(svg, "<poly"), strings.Count(string(drawLadder(p)), "<path")+strings.Count(string(drawLadder(p)), "<poly"); a != b+2 {
		t.Errorf("%d shapes with a target, %d without", a, b)
	}
}

func TestMinusIsTrue(t *testing.T) {
	for in, want := range map[string]string{"-1.2": "−1.2", "4 rim -0.5": "4 rim −0.5", "tail-lamp +1": "tail-lamp +1"} {
		if got := minus(in); got != want {
			t.Errorf("%q: %q", in, got)
		}
	}
}

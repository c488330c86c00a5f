package light

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// headRoom is a black room with a bulb and a subject that faces the front wall.
func headRoom(subject, eyes, bulb string) string {
	return fmt.Sprintf(`schema = 1
[room]
width = 6
depth = 6
height = 3
walls = 0
ceiling = 0
floor = 0
[subject]
at = %s
eyes = %s
facing = 270
[camera]
at = [3, 0.5, 1.5]
focal_mm = 35
f = 2.8
sensitivity = 800
[[lamp]]
name = "bulb"
kind = "bulb"
at = %s
`, subject, eyes, bulb)
}

// A lamp at one side doesn't reach the other cheek past the nose, whatever way
// a fold of the skin there faces; from the front it reaches both.
func TestNoseAndHorizonHide(t *testing.T) {
	for _, c := range []struct {
		name, bulb string
		seen       bool
	}{
		{"behind the head", "[3, 4, 1.5]", false},
		{"65° to the left", "[1.1871, 2.1547, 1.5]", false}, // 2 m from the head
		{"straight before", "[3, 1, 1.5]", true},
		{"on the cheek's own side", "[4.8, 2.1, 1.5]", true},
		{"to the left, high over the nose", "[2.6, 1.6, 2.9]", true},
	} {
		s := sceneOf(t, headRoom("[3, 3]", "1.5", c.bulb))
		// On the right cheek, a fold that faces the bulb.
		p := s.Head().Add(leveled(s.ahead(), 30).Times(faceOut))
		p.Z -= 0.03
		n := s.lamps[0].face.axis().o.Sub(p).Unit()
		if got := s.At(p, n, Skin)[0].Direct > 0; got != c.seen {
			t.Errorf("%s: lit %v", c.name, got)
		}
		if s.At(p, n, Apart)[0].Direct <= 0 {
			t.Errorf("%s: a card held there is hidden by what it's held before", c.name)
		}
	}
}

// Moved with the subject, a place reads what it reads where the plan has the
// subject there.
func TestFalloffMovesTheHead(t *testing.T) {
	// So low that there's no body: it would stay where it is and give light back.
	const bulb, eyes = "[2.6, 1.2, 0.7]", "0.55"
	s := sceneOf(t, headRoom("[3, 3]", eyes, bulb))
	lux := func(s *Scene, name string) float64 { return float64(Sum(s.Read(s.place(name)))) }
	for _, f := range s.Falloff() {
		at := map[string]string{"left": "[2.7, 3]", "right": "[3.3, 3]", "nearer": "[3, 2.7]", "farther": "[3, 3.3]"}[f.Toward]
		want := math.Log2(lux(sceneOf(t, headRoom(at, eyes, bulb)), f.Place) / lux(s, f.Place))
		if math.Abs(float64(f.Stops)-want) > 1e-9 {
			t.Errorf("%s, %s: %+.4f stop, there %+.4f", f.Place, f.Toward, float64(f.Stops), want)
		}
	}
	if n := len(s.Falloff()); n != 8 {
		t.Errorf("%d readings", n)
	}
}

// Places that a plan adds on the head are skin, a card there isn't.
func TestWhatIsSkin(t *testing.T) {
	text := headRoom("[3, 3]", "1.5", "[1.4, 1.6, 1.7]") + `
[[place]]
name = "brow"
at = [3.03, 2.92, 1.54]
normal = [0, -1, 0]
[[place]]
name = "card"
at = [3, 2.88, 1.45]
normal = [0, -1, 0]
[[place]]
name = "hand"
at = [3.3, 2.7, 1.1]
normal = [0, -1, 0]
`
	s := sceneOf(t, strings.TrimSpace(text))
	for name, want := range map[string]Body{"brow": Skin, "card": Apart, "hand": Whole, FaceLit: Skin, Hair: Skin, Background: Whole} {
		if got := s.place(name).Body; got != want {
			t.Errorf("%s: %d, not %d", name, got, want)
		}
	}
}

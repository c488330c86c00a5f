package light

import (
	_ "embed"
	"fmt"
	"strings"

	"lampwise/internal/unit"
)

// Example is the commented plan of the generated example's garage.
//
//go:embed example.toml
var Example string

// Answers are what a new plan is made from.
type Answers struct {
	Width, Depth, Height unit.Metre
	Walls                float64 // reflectance
	Standing             bool
	Key                  string // kind of the key
	Fill                 string // kind of the fill; empty: none
	Focal                unit.Millimetre
	N                    float64
	Sensitivity          float64
	Rate                 unit.Hertz
	Mains                unit.Hertz
}

// Usual are the answers when nothing is said: a room of ordinary size.
var Usual = Answers{Width: 4, Depth: 5, Height: 2.5, Walls: 0.6, Key: "panel-60", Fill: "panel-30", Focal: 35, N: 2.8, Sensitivity: 800, Rate: 25, Mains: 50}

// New writes a commented plan: the subject two fifths of the depth before the
// back wall, the camera opposite, the key at 45° to one side and as much
// overhead, the fill on the other side at the camera's height.
func New(a Answers) (string, error) {
	w, d, h := float64(a.Width), float64(a.Depth), float64(a.Height)
	eyes := 1.2
	if a.Standing {
		eyes = 1.6
	}
	x, y := w/2, 0.6*d
	cy := max(0.4, y-2.2)
	// A large lantern fits beside the wall and under the ceiling.
	reach := min(1.5, w/2-0.45)
	high := min(h-0.45, eyes+0.75)
	var b strings.Builder
	fmt.Fprintf(&b, `# A plan. Lengths are in metres from the floor's corner at the camera's left:
# x to the right, y away from the wall behind the camera, z up.
# Show it with: lampwise plan FILE --draw FOLDER
schema = %d
title = "my room"

# What it should read, for: lampwise plan FILE --solve
targets = ["face-lit=+0.5 ±0.2", "face-lit/face-shade=2 ±0.3", "background=-1.5 ±0.3"]

[room]
width = %.2f
depth = %.2f
height = %.2f
walls = %.2f     # how much light they give back: white paint 0.8, plaster 0.5, black cloth 0.03
ceiling = 0.7
floor = 0.2

[subject]
at = [%.2f, %.2f]
eyes = %.2f      # height of the eyes: sitting 1.2, standing 1.6
reflectance = 0.36   # of the skin: light 0.36, dark 0.1

[camera]
at = [%.2f, %.2f, %.2f]
sensor_mm = [36, 20.25]  # width and height of what is recorded
focal_mm = %g
f = %g
rate = %g
shutter_deg = 180
sensitivity = %g         # base sensitivity of the log mode
# curve = "log-420"      # lampwise curves lists them; then clip is known, too
mains_hz = %g

[[circuit]]
name = "wall"
volts = 230
breaker = 16
at = [0.05, %.2f]

# Lamp kinds: lampwise plan kinds. Give a lamp's own figures when you have
# them: lux with distance, lumens, or photometry = "FILE.ies".
[[lamp]]
name = "key"
kind = %q
at = [%.2f, %.2f, %.2f]
level = 0.5
circuit = "wall"
`, Schema, w, d, h, a.Walls, x, y, eyes, x, cy, eyes+0.05, float64(a.Focal), a.N, float64(a.Rate), a.Sensitivity, float64(a.Mains), d/2, a.Key, x-reach, y-reach, high)
	if a.Fill != "" {
		fmt.Fprintf(&b, `
[[lamp]]
name = "fill"
kind = %q
at = [%.2f, %.2f, %.2f]
level = 0.5
circuit = "wall"
`, a.Fill, x+reach, y-reach, min(h-0.3, eyes+0.1))
	}
	text := b.String()
	p, err := Parse([]byte(text), "the new plan")
	if err == nil {
		_, err = NewScene(p, nil)
	}
	return text, err
}

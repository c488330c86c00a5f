package job

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lampwise/internal/light"
)

// planrender_test.go holds plans to an independent ray tracer, POV-Ray: each
// lamp as many small cosine sources spread over its face, light passed on by
// the tracer's own radiosity, read on a small white card at each place.

// renderTolerance is what a plan is asked to keep: 0.15 stop on face and
// background for every lamp (the project's own target).
const renderTolerance = 0.15

// povSource is one of the small sources that stand for a face: its intensity
// falls with the power of the cosine to its direction; 0: even all round.
type povSource struct {
	at, dir light.Vec
	candela float64
	power   float64
}

// povLamp spreads a lamp over its face. What each small source gives follows
// from the plan's own lux, lumens or luminance by the definition of candela
// and lumen, by summing what the sources give: none of the planner's formulas.
func povLamp(t *testing.T, s *light.Scene, l int) []povSource {
	t.Helper()
	p := &s.Plan.Lamps[l]
	at, z, x, y := s.Axis(l)
	var out []povSource
	put := func(q, d light.Vec, share, power float64) { out = append(out, povSource{q, d, share, power}) }
	size := func(i int) float64 { return float64(p.Size[i]) }
	const n = 6
	switch {
	case p.Photometry != "":
		put(at, z, 6000, 4) // as the file was written
		return out
	case p.Shape == light.ShapePoint:
		put(at, z, 1, 0)
	case p.Shape == light.ShapeRect:
		for i := range n {
			for j := range n {
				put(at.Add(x.Times(size(0)*((float64(i)+0.5)/n-0.5))).Add(y.Times(size(1)*((float64(j)+0.5)/n-0.5))), z, 1, 1)
			}
		}
	case p.Shape == light.ShapeDisc:
		for i := range 5 {
			for j := range 8 {
				r := size(0) / 2 * math.Sqrt((float64(i)+0.5)/5)
				sin, cos := math.Sincos(2 * math.Pi * (float64(j) + 0.5*float64(i%2)) / 8)
				put(at.Add(x.Times(r*cos)).Add(y.Times(r*sin)), z, 1, 1)
			}
		}
	case p.Shape == light.ShapeBall:
		const bands, round = 8, 12
		for i := range bands {
			h := 2*(float64(i)+0.5)/bands - 1
			for j := range round {
				sin, cos := math.Sincos(2 * math.Pi * (float64(j) + 0.5*float64(i%2)) / round)
				r := math.Sqrt(1 - h*h)
				d := light.Vec{X: r * cos, Y: r * sin, Z: h}
				put(at.Add(d.Times(size(0)/2)), d, 1, 1)
			}
		}
	case p.Shape == light.ShapeTube:
		const long, round = 14, 6
		for i := range long {
			for j := range round {
				sin, cos := math.Sincos(2 * math.Pi * float64(j) / round)
				d := y.Times(cos).Add(z.Times(sin))
				put(at.Add(x.Times(size(0)*((float64(i)+0.5)/long-0.5))).Add(d.Times(size(1)/2)), d, 1, 1)
			}
		}
	}
	// How much each gives.
	k := 1.0
	switch {
	case p.Lumens > 0:
		sum := 0.0
		for _, q := range out {
			if q.power == 0 {
				sum += 4 * math.Pi
			} else {
				sum += math.Pi
			}
		}
		k = float64(p.Lumens) / sum
	case p.Lux > 0:
		c := at.Add(z.Times(float64(p.Distance)))
		sum := 0.0
		for _, q := range out {
			d := c.Sub(q.at)
			r := d.Length()
			sum += d.Dot(q.dir) / r * d.Dot(z) / r / (r * r)
		}
		k = float64(p.Lux) / sum
	case p.Luminance > 0: // candela = luminance times area
		area := map[string]func() float64{
			light.ShapeRect: func() float64 { return size(0) * size(1) },
			light.ShapeDisc: func() float64 { return math.Pi * size(0) * size(0) / 4 },
			light.ShapeBall: func() float64 { return math.Pi * size(0) * size(0) },
			light.ShapeTube: func() float64 { return math.Pi * size(0) * size(1) },
		}[p.Shape]()
		k = float64(p.Luminance) * area / float64(len(out))
	}
	for i := range out {
		out[i].candela *= k
	}
	return out
}

// pov writes a place in the tracer's axes: x right, y up, z into the room.
func pov(v light.Vec) string { return fmt.Sprintf("<%.6f,%.6f,%.6f>", v.X, v.Z, v.Y) }

// povScene is the room with one lamp and a card at a place.
func povScene(s *light.Scene, sources []povSource, place light.Place, gain float64, bounce bool) string {
	var b strings.Builder
	b.WriteString("#version 3.7;\nglobal_settings { assumed_gamma 1.0 max_trace_level 24 adc_bailout 0\n")
	if bounce {
		// adc_bailout: its usual value drops the later bounces, a tenth of a white room's light.
		b.WriteString("radiosity { count 600 nearest_count 1 error_bound 0.4 low_error_factor 0.8 recursion_limit 20 adc_bailout 0.00001 gray_threshold 0 minimum_reuse 0.01 pretrace_start 1 pretrace_end 0.5 always_sample on normal off }\n")
	}
	b.WriteString("}\n#default { finish { ambient 0 emission 0 diffuse 1 } }\n")
	p := s.Plan
	w, d, h := float64(p.Room.Width), float64(p.Room.Depth), float64(p.Room.Height)
	box := func(a, c light.Vec, rho float64) {
		fmt.Fprintf(&b, "box { %s, %s pigment { rgb %.4f } }\n", pov(a), pov(c), rho)
	}
	const o = 0.1
	box(light.Vec{X: -o, Y: -o, Z: -o}, light.Vec{X: w + o, Y: d + o}, *p.Room.Floor)
	box(light.Vec{X: -o, Y: -o, Z: h}, light.Vec{X: w + o, Y: d + o, Z: h + o}, *p.Room.Ceiling)
	box(light.Vec{X: -o, Y: -o}, light.Vec{Y: d + o, Z: h}, *p.Room.Left)
	box(light.Vec{X: w, Y: -o}, light.Vec{X: w + o, Y: d + o, Z: h}, *p.Room.Right)
	for l := range p.Lamps { // windows in the right-hand wall: panes give back 8 %
		if lamp := &p.Lamps[l]; lamp.Ambient {
			at, _, _, _ := s.Axis(l)
			hw, hh := float64(lamp.Size[0])/2, float64(lamp.Size[1])/2
			box(light.Vec{X: w - 1e-4, Y: at.Y - hw, Z: at.Z - hh}, light.Vec{X: w + o, Y: at.Y + hw, Z: at.Z + hh}, 0.08)
		}
	}
	box(light.Vec{Y: -o}, light.Vec{X: w, Z: h}, *p.Room.Front)
	box(light.Vec{Y: d}, light.Vec{X: w, Y: d + o, Z: h}, *p.Room.Back)
	for _, t := range p.Things {
		half := light.Vec{X: float64(t.Size[0]) / 2, Y: float64(t.Size[1]) / 2, Z: float64(t.Size[2]) / 2}
		m := light.Vec{X: float64(t.At[0]), Y: float64(t.At[1]), Z: float64(t.At[2])}
		box(m.Sub(half), m.Add(half), t.Reflectance)
	}
	// The person: a head 15.5 cm wide, 19.5 long and 23 high, its front 8.5 cm before
	// the point over the neck, and a body from 0.4 m up to the shoulders.
	head := s.Head()
	e := s.Eye().Sub(head)
	turn := math.Atan2(e.Y, e.X) * 180 / math.Pi
	skin := fmt.Sprintf("pigment { rgb %.3f } rotate %.4f*y translate %s", p.Subject.Reflectance, -turn, pov(head))
	fmt.Fprintf(&b, "sphere { 0, 1 scale <0.0975,0.115,0.0775> translate -0.0125*x %s }\n", skin)
	// Its brows, and its nose in three steps: 5.2 cm long from 0.8 cm over the eyes'
	// level, 1.2 cm wide at the root and 3.5 at the wings, up to 2.5 cm before the face.
	fmt.Fprintf(&b, "sphere { 0, 1 scale <0.037,0.010,0.055> translate <0.055,0.019,0> %s }\n", skin)
	for _, step := range [3][4]float64{{-0.0093333, 0.008, 0.0891667, 0.0079167}, {-0.0266667, -0.0093333, 0.0975, 0.01175}, {-0.044, -0.0266667, 0.1058333, 0.0155833}} { // from, to, out, half its width
		fmt.Fprintf(&b, "box { <0.05,%.7f,%.7f>, <%.7f,%.7f,%.7f> %s }\n", step[0], -step[3], step[2], step[1], step[3], skin)
	}
	if top := head.Z - 0.18; top > 0.4 {
		fmt.Fprintf(&b, "box { <-0.11,%.4f,-0.2>, <0.11,%.4f,0.2> translate -0.03*x pigment { rgb 0.1 } rotate %.4f*y translate <%.5f,0,%.5f> }\n", 0.4, top, -turn, head.X, head.Y)
	}
	// The lamps' bodies: dark, and they throw no shadow of direct light.
	for l := range p.Lamps {
		at, z, x, y := s.Axis(l)
		switch lamp := &p.Lamps[l]; {
		case lamp.Ambient:
		case lamp.Shape == light.ShapeBall:
			fmt.Fprintf(&b, "sphere { %s, %.4f pigment { rgb 0 } no_shadow }\n", pov(at), float64(lamp.Size[0])/2-2e-3)
		case lamp.Shape == light.ShapeDisc:
			fmt.Fprintf(&b, "disc { %s, %s, %.4f pigment { rgb 0 } no_shadow }\n", pov(at.Add(z.Times(-0.01))), pov(z), float64(lamp.Size[0])/2)
		case lamp.Shape == light.ShapeRect:
			c := at.Add(z.Times(-0.01))
			u, v := x.Times(float64(lamp.Size[0])/2), y.Times(float64(lamp.Size[1])/2)
			q := [4]light.Vec{c.Add(u).Add(v), c.Add(u).Sub(v), c.Sub(u).Sub(v), c.Sub(u).Add(v)}
			fmt.Fprintf(&b, "polygon { 5, %s, %s, %s, %s, %s pigment { rgb 0 } no_shadow }\n", pov(q[0]), pov(q[1]), pov(q[2]), pov(q[3]), pov(q[0]))
		}
	}
	for _, q := range sources {
		k := gain * q.candela * 5000 // the tracer's fade: 2/(1 + (d/0.01)²) ≈ 2e-4/d²
		fmt.Fprintf(&b, "light_source { %s rgb %.8g fade_distance 0.01 fade_power 2", pov(q.at.Add(q.dir.Times(1e-3))), k)
		if q.power > 0 {
			fmt.Fprintf(&b, " spotlight point_at %s radius 90 falloff 90 tightness %g", pov(q.at.Add(q.dir)), q.power)
		}
		b.WriteString(" }\n")
	}
	c := place.At.Add(place.Normal.Times(2e-3))
	if place.Body != light.Whole { // the card lies on the skin
		c = place.At
	}
	eye := c.Add(place.Normal.Times(0.03))
	fmt.Fprintf(&b, "disc { %s, %s, 0.006 pigment { rgb 1 } }\n", pov(c), pov(place.Normal))
	up := light.Vec{Z: 1}
	if math.Abs(place.Normal.Z) > 0.9 {
		up = light.Vec{Y: 1}
	}
	fmt.Fprintf(&b, "camera { orthographic location %s sky %s right 0.002*x up 0.002*y look_at %s }\n", pov(eye), pov(up), pov(c))
	return b.String()
}

// povRead renders the card and gives its mean.
func povRead(t *testing.T, dir, name, scene string) float64 {
	t.Helper()
	in, out := filepath.Join(dir, name+".pov"), filepath.Join(dir, name+".png")
	if err := os.WriteFile(in, []byte(scene), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, "povray", "+I"+in, "+O"+out, "+FN16", "File_Gamma=1.0", "+W4", "+H4", "-D", "-GA", "-A", "Work_Threads=1")
	cmd.Dir = dir
	if log, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("povray: %v\n%s", err, log)
	}
	f, err := os.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	im, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return meanOf(t, im, name)
}

func meanOf(t *testing.T, im image.Image, name string) float64 {
	t.Helper()
	sum, n := 0.0, 0
	for y := im.Bounds().Min.Y; y < im.Bounds().Max.Y; y++ {
		for x := im.Bounds().Min.X; x < im.Bounds().Max.X; x++ {
			v := color.NRGBA64Model.Convert(im.At(x, y)).(color.NRGBA64).G
			if v == 65535 {
				t.Fatalf("%s: the render clips", name)
			}
			sum += float64(v) / 65535
			n++
		}
	}
	return sum / float64(n)
}

func needPovray(t *testing.T) {
	t.Helper()
	if _, err := exec.LookPath("povray"); err != nil {
		t.Skip("povray is not here (Debian package povray)")
	}
}

func plannedScene(t *testing.T, name string) *light.Scene {
	t.Helper()
	p, err := PlanFile(PlanRequest{File: filepath.Join("testdata", "plan", name)})
	if err != nil {
		t.Fatal(err)
	}
	return p.scene
}

// Each lamp of two rooms, alone: face and background as the tracer renders
// them, within 0.15 stop; the direct part alone within 3 %.
func TestPlanAgainstRayTracer(t *testing.T) {
	needPovray(t)
	if testing.Short() {
		t.Skip("short")
	}
	for _, room := range []string{"white-room", "dark-room"} {
		t.Run(room, func(t *testing.T) {
			t.Parallel()
			s := plannedScene(t, room+".toml")
			dir := t.TempDir()
			worst := 0.0
			for l := range s.Plan.Lamps {
				sources := povLamp(t, s, l)
				for _, place := range s.Places {
					if place.Name != light.FaceLit && place.Name != light.FaceShade && place.Name != light.Background {
						continue
					}
					place.Finish = light.Finish{} // the tracer's cards are matt
					lit := s.Read(place)[l]
					gain := 0.3 / float64(lit.Total()) // exposure only: the reading is divided by it again
					name := fmt.Sprintf("%s-%d-%s", room, l, place.Name)
					direct := povRead(t, dir, name+"-direct", povScene(s, sources, place, gain, false)) / gain
					total := povRead(t, dir, name, povScene(s, sources, place, gain, true)) / gain
					off := math.Log2(float64(lit.Total()) / total)
					worst = math.Max(worst, math.Abs(off))
					t.Logf("%-8s %-11s direct %8.2f lx, rendered %8.2f; total %8.2f lx, rendered %8.2f: %+.3f stop; the mean estimate alone %+.2f stop",
						s.Plan.Lamps[l].Name, place.Name, float64(lit.Direct), direct, float64(lit.Total()), total, off,
						math.Log2((float64(lit.Direct)+float64(s.Mean(l)))/total))
					// Against half a per cent of the place's whole light a deviation is the
					// tracer's few sources for a soft face: there the sum is what counts.
					if d := float64(lit.Direct) - direct; math.Abs(d) > 0.03*direct+0.005*total {
						t.Errorf("%s at %s: directly %.2f lx, rendered %.2f", s.Plan.Lamps[l].Name, place.Name, float64(lit.Direct), direct)
					}
					if math.Abs(off) > renderTolerance {
						t.Errorf("%s at %s: %+.3f stop from the render", s.Plan.Lamps[l].Name, place.Name, off)
					}
				}
			}
			t.Logf("worst %.3f stop", worst)
		})
	}
}

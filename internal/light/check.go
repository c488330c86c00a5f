package light

import (
	"fmt"
	"math"
	"strings"

	"lampwise/internal/unit"
)

// Largest lengths that a plan believes. Above them the number is most likely
// in millimetres or centimetres.
const (
	mostRoom  = 60.0
	mostLevel = 1.0
)

// tryUnits says what a length that is far too large would be in other units.
func tryUnits(v float64) string {
	switch {
	case v >= 500:
		return fmt.Sprintf("Lengths are in metres; %g looks like millimetres: write %g.", v, v/1000)
	case v >= 50:
		return fmt.Sprintf("Lengths are in metres; %g looks like centimetres: write %g.", v, v/100)
	}
	return "Lengths are in metres."
}

// checker collects the first fault.
type checker struct {
	p   *Plan
	err error
}

func (c *checker) fail(key, code, hint, format string, args ...any) {
	if c.err == nil {
		c.err = c.p.fault(key, code, hint, format, args...)
	}
}

// within asks for lo ≤ v ≤ hi; NaN is outside.
func (c *checker) within(key string, v, lo, hi float64, what string) {
	if !(v >= lo && v <= hi) {
		c.fail(key, "plan-range", "Give a number in that range, or leave the line out for the usual one.", "%s = %g; it must be %g to %g %s", key, v, lo, hi, what)
	}
}

func (c *checker) length(key string, v unit.Metre, lo, hi float64) {
	if !(float64(v) >= lo && float64(v) <= hi) {
		c.fail(key, "plan-length", tryUnits(float64(v)), "%s = %g m; it must be %g to %g m", key, float64(v), lo, hi)
	}
}

func (c *checker) share(key string, v float64) { c.within(key, v, 0, 1, "(a fraction)") }

func (c *checker) count(key string, got, want int, what string) bool {
	if got != want {
		c.fail(key, "plan-count", "Numbers of a list stand in brackets, with commas between them.", "%s must be %d numbers (%s), not %d", key, want, what, got)
	}
	return got == want
}

// place asks for a place inside the room.
func (c *checker) place(key string, at []unit.Metre, who string) {
	if !c.count(key, len(at), 3, "x, y, z in metres") {
		return
	}
	r := c.p.Room
	for i, limit := range []unit.Metre{r.Width, r.Depth, r.Height} {
		v := float64(at[i])
		if math.IsNaN(v) || math.IsInf(v, 0) {
			c.fail(key, "plan-number", "Give a number, for example 1.5.", "%s has a number that isn't finite", key)
			return
		}
		if v < 0 || at[i] > limit {
			hint := "Places are measured from the corner at the camera's left, in metres."
			if v >= 50 {
				hint = tryUnits(v)
			}
			c.fail(key, "plan-outside", hint, "%s is outside the room: %s = %g m, the room has 0 to %g m", who, "xyz"[i:i+1], v, float64(limit))
			return
		}
	}
}

func (c *checker) name(key, name string, seen map[string]bool) {
	switch {
	case name == "":
		c.fail(key, "plan-name", "", "%s has no name", key)
	case len(name) > 40 || strings.ContainsAny(name, "\n\t\",=") || strings.TrimSpace(name) != name:
		c.fail(key+".name", "plan-name", "Letters, digits and hyphens, at most 40.", "%q can't be a name", short(name))
	case seen[name]:
		c.fail(key+".name", "plan-name", "Give each its own name.", "there are two named %q", name)
	}
	seen[name] = true
}

// check fills in defaults, lays the kinds under the lamps and refuses what
// can't be.
func (p *Plan) check() error {
	c := &checker{p: p}
	if p.Schema != Schema {
		return p.fault("schema", "plan-schema", fmt.Sprintf("Write schema = %d at the head of the file.", Schema), "the file's schema is %d; this program reads schema %d", p.Schema, Schema)
	}
	for _, n := range []struct {
		key       string
		got, most int
	}{{"lamp", len(p.Lamps), maxLamps}, {"thing", len(p.Things), maxThings}, {"place", len(p.Places), maxPlaces}, {"circuit", len(p.Circuits), maxCircuits}, {"targets", len(p.Targets), maxPlaces}} {
		if n.got > n.most {
			return p.fault(n.key, "plan-many", "Leave out what gives no light worth counting, or plan the room in parts.", "%d of [[%s]]; at most %d", n.got, n.key, n.most)
		}
	}
	c.room()
	if c.err == nil {
		c.camera()
	}
	if c.err == nil {
		c.subject()
	}
	if c.err == nil {
		c.things()
		c.lamps()
		c.readPlaces()
	}
	return c.err
}

func (c *checker) room() {
	r := &c.p.Room
	if _, given := c.p.where["room"]; !given {
		c.fail("", "plan-room", "Begin with [room] and its width, depth and height in metres.", "the plan has no [room]")
		return
	}
	c.length("room.width", r.Width, 0.8, mostRoom)
	c.length("room.depth", r.Depth, 0.8, mostRoom)
	c.length("room.height", r.Height, 0.8, 20)
	def := func(v **float64, key string, d float64) {
		if *v == nil {
			*v = &d
			return
		}
		// A room that reflects everything would never get dark.
		c.within("room."+key, **v, 0, 0.95, "(a reflectance)")
	}
	def(&r.Walls, "walls", 0.5)
	def(&r.Ceiling, "ceiling", 0.7)
	def(&r.Floor, "floor", 0.2)
	def(&r.Left, "left", *r.Walls)
	def(&r.Right, "right", *r.Walls)
	def(&r.Front, "front", *r.Walls)
	def(&r.Back, "back", *r.Walls)
}

func (c *checker) camera() {
	k := &c.p.Camera
	if _, given := c.p.where["camera"]; !given {
		c.fail("", "plan-camera", "Add [camera] with at, focal_mm, f, rate, sensitivity.", "the plan has no [camera]")
		return
	}
	c.place("camera.at", k.At, "the camera")
	if k.Sensor == nil {
		k.Sensor = []unit.Millimetre{36, 20.25} // a 24×36 mm sensor's 16:9 part
	}
	if c.count("camera.sensor_mm", len(k.Sensor), 2, "width, height in millimetres") {
		for _, v := range k.Sensor {
			if !(v >= 2 && v <= 80) {
				c.fail("camera.sensor_mm", "plan-length", "The sensor's picture is given in millimetres, for example [36, 20.25].", "camera.sensor_mm = %g mm; it must be 2 to 80 mm", float64(v))
			}
		}
	}
	if !(k.Focal >= 2 && k.Focal <= 1000) {
		hint := "The focal length is in millimetres, for example focal_mm = 35."
		if k.Focal > 0 && k.Focal < 1 {
			hint = fmt.Sprintf("The focal length is in millimetres; %g looks like metres: write %g.", float64(k.Focal), float64(k.Focal)*1000)
		}
		c.fail("camera.focal_mm", "plan-length", hint, "camera.focal_mm = %g; it must be 2 to 1000 mm", float64(k.Focal))
	}
	c.within("camera.f", k.N, 0.5, 64, "")
	if k.Transmission == 0 {
		k.Transmission = 1
	}
	c.within("camera.transmission", k.Transmission, 0.05, 1, "(a fraction)")
	if k.Rate == 0 {
		k.Rate = 25
	}
	c.within("camera.rate", float64(k.Rate), 1, 1000, "pictures a second")
	switch {
	case k.Angle != 0 && k.Time != 0:
		c.fail("camera.shutter_s", "plan-shutter", "Keep one of them.", "the shutter is given twice: shutter_deg and shutter_s")
	case k.Time != 0:
		c.within("camera.shutter_s", float64(k.Time), 1e-5, 1/float64(k.Rate)*(1+1e-9), "s (no longer than a picture)")
	default:
		if k.Angle == 0 {
			k.Angle = 180
		}
		c.within("camera.shutter_deg", float64(k.Angle), 0.5, 360, "degrees")
		k.Time = unit.Second(float64(k.Angle) / 360 / float64(k.Rate))
	}
	c.within("camera.sensitivity", k.Sensitivity, 6, 4e6, "(ISO)")
	c.within("camera.nd_stops", float64(k.ND), 0, 20, "stops")
	if k.Mains == 0 {
		k.Mains = 50
	}
	if k.Mains != 50 && k.Mains != 60 {
		c.fail("camera.mains_hz", "plan-mains", "", "camera.mains_hz = %g; the mains have 50 or 60 Hz", float64(k.Mains))
	}
	if k.Lines == 0 {
		k.Lines = 1080
	}
	c.within("camera.lines", float64(k.Lines), 100, 10000, "lines")
	if k.Balance != 0 {
		c.within("camera.white_balance", float64(k.Balance), 1000, 25000, "K")
	}
	if k.Clip != nil {
		c.within("camera.clip_stops", float64(*k.Clip), 0.5, 12, "stops over grey")
	}
	if k.Floor != nil {
		c.within("camera.floor_stops", float64(*k.Floor), -16, -0.5, "stops from grey")
	}
	if k.Focus != 0 {
		c.length("camera.focus", k.Focus, 0.05, 100)
	}
}

func (c *checker) subject() {
	s := &c.p.Subject
	if _, given := c.p.where["subject"]; !given {
		c.fail("", "plan-subject", "Add [subject] with at = [x, y].", "the plan has no [subject]")
		return
	}
	if !c.count("subject.at", len(s.At), 2, "x, y in metres") {
		return
	}
	if s.Eyes == 0 {
		s.Eyes = 1.2
	}
	c.place("subject.at", []unit.Metre{s.At[0], s.At[1], s.Eyes}, "the subject")
	if s.Reflectance == 0 {
		s.Reflectance = 0.36 // light skin: one stop over middle grey; common practice, no source
	}
	if s.Hair == 0 {
		s.Hair = 0.05
	}
	c.within("subject.reflectance", s.Reflectance, 0.02, 0.95, "(a reflectance)")
	c.within("subject.hair", s.Hair, 0.005, 0.95, "(a reflectance)")
	if s.Move == 0 {
		s.Move = 0.3
	}
	c.length("subject.move", s.Move, 0.01, 2)
	if c.err != nil {
		return
	}
	k := &c.p.Camera
	eye := vecOf(k.At)
	head := Vec{float64(s.At[0]), float64(s.At[1]), float64(s.Eyes)}
	if k.Look == nil {
		k.Look = []unit.Metre{s.At[0], s.At[1], s.Eyes}
	} else {
		c.place("camera.look", k.Look, "where the camera looks")
	}
	if c.err != nil {
		return
	}
	look := vecOf(k.Look).Sub(eye)
	if head.Sub(eye).Length() < 0.15 {
		c.fail("camera.at", "plan-zero-distance", "Move one of them.", "the camera stands in the subject's face: %.2f m", head.Sub(eye).Length())
	} else if look.Length() < 0.05 {
		c.fail("camera.look", "plan-zero-distance", "Name another place.", "the camera looks at itself")
	} else if look.Dot(head.Sub(eye)) <= 0 {
		c.fail("subject.at", "plan-behind", "Move the subject, or turn the camera with look = [x, y, z].", "the subject is behind the camera")
	}
}

func (c *checker) things() {
	seen := map[string]bool{}
	for i := range c.p.Things {
		t := &c.p.Things[i]
		key := fmt.Sprintf("thing.%d", i)
		c.name(key, t.Name, seen)
		c.place(key+".at", t.At, "thing "+t.Name)
		if c.count(key+".size", len(t.Size), 3, "width, depth, height in metres") {
			for _, v := range t.Size {
				c.length(key+".size", v, 0.001, mostRoom)
			}
		}
		c.within(key+".turn", float64(t.Turn), -360, 360, "degrees")
		c.within(key+".reflectance", t.Reflectance, 0, 0.95, "(a reflectance)")
	}
	seen = map[string]bool{}
	for i := range c.p.Circuits {
		t := &c.p.Circuits[i]
		key := fmt.Sprintf("circuit.%d", i)
		c.name(key, t.Name, seen)
		c.within(key+".volts", float64(t.Volts), 5, 480, "V")
		c.within(key+".breaker", float64(t.Breaker), 0.5, 125, "A")
		c.within(key+".other_watts", float64(t.Other), 0, 30000, "W")
		if t.At != nil && c.count(key+".at", len(t.At), 2, "x, y in metres") {
			c.place(key+".at", []unit.Metre{t.At[0], t.At[1], 0}, "the socket of circuit "+t.Name)
		}
	}
}

func (c *checker) readPlaces() {
	p := c.p
	if b := p.Background; b != nil {
		c.place("background.at", b.At, "the background's place")
		if b.Normal != nil {
			c.direction("background.normal", b.Normal)
		}
		if b.Reflectance == 0 {
			b.Reflectance = *p.Room.Back
		}
		c.within("background.reflectance", b.Reflectance, 0.005, 0.95, "(a reflectance)")
		c.finish("background.finish", b.Finish)
	}
	for i := range p.Places {
		seen := map[string]bool{} // a place may be given at several spots
		t := &p.Places[i]
		key := fmt.Sprintf("place.%d", i)
		c.name(key, t.Name, seen)
		c.place(key+".at", t.At, "place "+t.Name)
		c.direction(key+".normal", t.Normal)
		if t.Reflectance == 0 {
			t.Reflectance = 0.18
		}
		c.within(key+".reflectance", t.Reflectance, 0.005, 1, "(a reflectance)")
		c.finish(key+".finish", t.Finish)
	}
}

func (c *checker) finish(key, name string) {
	if _, known := finishes[name]; !known {
		c.fail(key, "plan-finish", "There are matt, satin, gloss and, for a face, skin.", "%s = %q is no finish", key, short(name))
	}
}

func (c *checker) direction(key string, n []float64) {
	if !c.count(key, len(n), 3, "a direction x, y, z") {
		return
	}
	if v := (Vec{n[0], n[1], n[2]}); !(v.Length() > 1e-6 && v.Length() < 1e6) {
		c.fail(key, "plan-direction", "For example [0, -1, 0]: toward the front wall.", "%s is no direction", key)
	}
}

func vecOf(at []unit.Metre) Vec { return Vec{float64(at[0]), float64(at[1]), float64(at[2])} }

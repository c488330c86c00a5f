package light

import (
	"fmt"
	"strings"

	"lampwise/internal/fault"
	"lampwise/internal/unit"
)

func (c *checker) lamps() {
	if len(c.p.Lamps) == 0 {
		c.fail("", "plan-lamps", "Add a [[lamp]] with name, kind and at; lampwise plan kinds lists the kinds.", "the plan has no lamps")
	}
	seen := map[string]bool{}
	for i := range c.p.Lamps {
		if c.err == nil {
			c.lamp(fmt.Sprintf("lamp.%d", i), &c.p.Lamps[i], seen)
		}
	}
}

func (c *checker) lamp(key string, l *LampPlan, seen map[string]bool) {
	c.name(key, l.Name, seen)
	if l.Kind != "" {
		k, ok := KindByName(l.Kind)
		if !ok {
			var names []string
			for _, k := range Kinds() {
				names = append(names, k.Name)
			}
			hint := "Known: " + strings.Join(names, ", ") + "."
			if near, ok := fault.Nearest(l.Kind, names); ok {
				hint = "Did you mean " + near + "? " + hint
			}
			c.fail(key+".kind", "plan-kind", hint, "there is no lamp kind %q", short(l.Kind))
			return
		}
		k.under(l)
	}
	c.place(key+".at", l.At, "lamp "+l.Name)
	c.shape(key, l)
	c.output(key, l)
	if l.Level == nil {
		one := 1.0
		l.Level = &one
	}
	c.within(key+".level", *l.Level, 0, mostLevel, "(a fraction of full light)")
	c.within(key+".lowest", l.Lowest, 0, 1, "(a fraction of full light)")
	c.within(key+".turn", float64(l.Turn), -360, 360, "degrees")
	if l.Kelvin != 0 {
		c.within(key+".kelvin", float64(l.Kelvin), 1000, 25000, "K")
	}
	c.within(key+".gel_mired", float64(l.Gel), -300, 400, "mired")
	c.within(key+".gel_loss_stops", float64(l.GelLoss), 0, 10, "stops")
	c.within(key+".watts", float64(l.Watts), 0, 20000, "W")
	if l.PowerFactor == 0 {
		l.PowerFactor = assumedPowerFactor
	}
	c.within(key+".power_factor", l.PowerFactor, 0.2, 1, "")
	switch l.Dimming {
	case "", "steady", "pulse", "mains":
	default:
		c.fail(key+".dimming", "plan-dimming", "One of: steady (direct current), pulse (switched quickly), mains (follows the mains).", "lamp %s: dimming %q isn't known", l.Name, short(l.Dimming))
	}
	c.within(key+".pulse_hz", float64(l.Pulse), 0, 1e6, "Hz")
	if l.Circuit != "" {
		var names []string
		for _, k := range c.p.Circuits {
			names = append(names, k.Name)
		}
		found := false
		for _, n := range names {
			found = found || n == l.Circuit
		}
		if !found {
			hint := "Add a [[circuit]] of that name."
			if near, ok := fault.Nearest(l.Circuit, names); ok {
				hint = "Did you mean " + near + "?"
			}
			c.fail(key+".circuit", "plan-circuit", hint, "lamp %s hangs on circuit %q, which the plan doesn't have", l.Name, short(l.Circuit))
		}
	}
	if l.Measured != nil {
		c.within(key+".measured_stops", float64(*l.Measured), -6, 6, "stops")
	}
	c.within(key+".measured_se", float64(l.MeasuredSE), 0, 6, "stops")
	c.aim(key, l)
	if d := l.Diffusion; d != nil {
		c.diffusion(key+".diffusion", l, d)
	}
}

// assumedPowerFactor of a small lamp's supply that doesn't say: such supplies
// need no correction below 25 W (IEC 61000-3-2, from memory) and draw about
// twice the current their watts suggest; on the safe side.
const assumedPowerFactor = 0.6

// shape checks what the light comes from.
func (c *checker) shape(key string, l *LampPlan) {
	if l.Shape == "" {
		switch {
		case l.Photometry != "":
			l.Shape = ShapePoint
		case l.Beam != 0:
			l.Shape = ShapeBeam
		default:
			c.fail(key, "plan-shape", "Give a kind (lampwise plan kinds), a photometry file, or a shape with its size.", "lamp %s: what does its light come from?", l.Name)
			return
		}
	}
	want, what := 0, ""
	switch l.Shape {
	case ShapePoint, ShapeBeam:
		if n := len(l.Size); n == 2 {
			want = 2
		}
		what = "its opening's width and height, or nothing"
	case ShapeRect:
		want, what = 2, "width and height in metres"
	case ShapeDisc, ShapeBall:
		want, what = 1, "the diameter in metres"
	case ShapeTube:
		want, what = 2, "length and diameter in metres"
	default:
		c.fail(key+".shape", "plan-shape", "One of: point, beam, rectangle, disc, ball, tube.", "lamp %s: shape %q isn't known", l.Name, short(l.Shape))
		return
	}
	if c.count(key+".size", len(l.Size), want, what) {
		for _, v := range l.Size {
			c.length(key+".size", v, 0.002, 12)
		}
	}
	if l.Shape == ShapeBeam && l.Photometry == "" {
		c.within(key+".beam", float64(l.Beam), 1, 170, "degrees")
		if l.Field != 0 && !(l.Field > l.Beam && l.Field <= 360) {
			c.fail(key+".field", "plan-field", "The field angle is where a tenth of the light is left; the beam angle where half is.", "lamp %s: a field angle of %g° must be wider than the beam of %g°", l.Name, float64(l.Field), float64(l.Beam))
		}
	} else if l.Beam != 0 || l.Field != 0 {
		c.fail(key+".beam", "plan-beam", "A soft face's light is narrowed by grid; a photometry file has its own beam.", "lamp %s: a %s has no beam angle", l.Name, l.Shape)
	}
	if l.Grid != 0 {
		c.within(key+".grid", float64(l.Grid), 5, 170, "degrees")
		if l.Shape != ShapeRect && l.Shape != ShapeDisc {
			c.fail(key+".grid", "plan-grid", "", "lamp %s: a grid is put on a rectangle or a disc", l.Name)
		}
	}
}

// output checks that how much light it gives is said once, and can be.
func (c *checker) output(key string, l *LampPlan) {
	said := 0
	for _, given := range []bool{l.Lux != 0 || l.Distance != 0, l.Lumens != 0, l.Luminance != 0, l.Photometry != ""} {
		if given {
			said++
		}
	}
	if said != 1 {
		hint := "Give one: lux with distance, lumens, luminance, or a photometry file."
		if said == 0 {
			c.fail(key, "plan-output", hint, "lamp %s: how much light it gives isn't said", l.Name)
		} else {
			c.fail(key, "plan-output", hint, "lamp %s: how much light it gives is said more than once", l.Name)
		}
		return
	}
	if l.Photometry != "" && l.Shape != ShapePoint && l.Shape != ShapeBeam {
		c.fail(key+".photometry", "plan-photometry", "Leave the shape out.", "lamp %s: a photometry file says the shape of the light itself", l.Name)
	}
	if l.Lux != 0 || l.Distance != 0 {
		c.within(key+".lux", float64(l.Lux), 1e-3, 1e7, "lx")
		if l.Distance == 0 {
			c.fail(key+".distance", "plan-zero-distance", "Say at which distance the lux were measured, in metres.", "lamp %s: lux without a distance (or a distance of 0)", l.Name)
		}
		c.length(key+".distance", l.Distance, 0.1, 50)
	}
	if l.Lumens != 0 {
		c.within(key+".lumens", float64(l.Lumens), 1e-3, 1e7, "lm")
	}
	if l.Luminance != 0 {
		c.within(key+".luminance", float64(l.Luminance), 1e-3, 1e9, "cd/m²")
		if l.Shape == ShapePoint || l.Shape == ShapeBeam {
			c.fail(key+".luminance", "plan-output", "A luminance belongs to a face with a size.", "lamp %s: a %s has no luminance", l.Name, l.Shape)
		}
	}
}

// aim checks what the lamp points at.
func (c *checker) aim(key string, l *LampPlan) {
	switch a := l.Aim.(type) {
	case nil:
		if l.Shape == ShapeBall {
			return
		}
		l.Aim = "face"
	case string:
		switch a {
		case "face", "hair", "background", "down", "up", "left", "right", "front", "back":
		default:
			c.fail(key+".aim", "plan-aim", "face, hair, background, down, up, left, right, front, back, or [x, y, z].", "lamp %s: aim %q isn't known", l.Name, short(a))
		}
	case []any:
		if !c.count(key+".aim", len(a), 3, "x, y, z in metres") {
			return
		}
		var v []unit.Metre
		for _, e := range a {
			switch n := e.(type) {
			case float64:
				v = append(v, unit.Metre(n))
			case int64:
				v = append(v, unit.Metre(n))
			default:
				c.fail(key+".aim", "plan-aim", "", "lamp %s: aim must be numbers or a word", l.Name)
				return
			}
		}
		c.place(key+".aim", v, "where lamp "+l.Name+" points")
		if c.err == nil && len(l.At) == 3 && vecOf(v).Sub(vecOf(l.At)).Length() < 0.01 {
			c.fail(key+".aim", "plan-zero-distance", "Name another place.", "lamp %s points at itself", l.Name)
		}
		l.Aim = v
	case []unit.Metre: // a plan made in the program
		c.place(key+".aim", a, "where lamp "+l.Name+" points")
	default:
		c.fail(key+".aim", "plan-aim", "", "lamp %s: aim must be a word or [x, y, z]", l.Name)
	}
}

func (c *checker) diffusion(key string, l *LampPlan, d *DiffusionPlan) {
	if l.Shape == ShapeBall || l.Shape == ShapeTube {
		c.fail(key, "plan-diffusion", "Give the lantern or tube as it shines with its cover on.", "lamp %s: a frame stands before a lamp that points somewhere", l.Name)
	}
	if c.count(key+".size", len(d.Size), 2, "width and height in metres") {
		for _, v := range d.Size {
			c.length(key+".size", v, 0.05, 6)
		}
	}
	c.length(key+".distance", d.Distance, 0.02, 10)
	c.within(key+".transmission", d.Transmission, 0.01, 1, "(a fraction)")
	if d.Spread == nil {
		one := 1.0
		d.Spread = &one
	}
	c.share(key+".spread", *d.Spread)
}

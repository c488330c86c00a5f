package grade

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"lampwise/internal/colour"
	"lampwise/internal/fault"
)

// Check validates a grade that didn't come from a file (which Parse has
// checked already): ranges, allowed words, contradictions.
func (g *Grade) Check() error {
	return g.check(func(key, code, hint, format string, args ...any) error {
		return fault.New(fault.Usage, code, hint, format, args...)
	})
}

func (g *Grade) check(bad faulter) error {
	if err := checkTags(reflect.ValueOf(g).Elem(), "", bad); err != nil {
		return err
	}
	if g.Decode.Off {
		for _, s := range []Stage{StageExposure, StageBalance, StageSplit, StageCurve, StageSaturation, StageConvert} {
			if !g.Off(s) {
				return bad(string(s), "grade-decode-off", "Turn decode on, or put off = true in ["+string(s)+"] too.",
					"decode is off, so the clip is taken as a finished picture, and %s can't work on one", s)
			}
		}
	} else if g.Decode.Curve == "" {
		return bad("decode", "grade-curve-missing", "See: lampwise curves",
			"decode.curve is missing: the camera curve the clip was recorded in")
	} else if g.Decode.Params == nil {
		if _, err := colour.CurveByID(g.Decode.Curve); err != nil {
			return badName("decode.curve", err, bad)
		}
	}
	if g.Decode.Gamut != "" {
		if _, err := colour.GamutByID(g.Decode.Gamut); err != nil {
			return badName("decode.gamut", err, bad)
		}
	}
	if !g.Balance.Off {
		if err := checkWhite(g.Balance.White, "balance.white", bad); err != nil {
			return err
		}
		if err := checkWhite(g.Balance.Target, "balance.target", bad); err != nil {
			return err
		}
		if g.Balance.Target.Card != nil {
			return bad("balance.target.card", "grade-target", "Give the target as cct (with duv) or xy, or leave it {} for the gamut's white.",
				"balance.target can't be a card: a card is something measured")
		}
		if !g.Balance.White.Set() {
			return bad("balance", "grade-white-missing", "Give white = { card = [r, g, b] }, { cct = …, duv = … } or { xy = [x, y] }, or put off = true.",
				"balance is on but balance.white, the white as recorded, is missing")
		}
	}
	c := g.Split.Centres
	if !(c[0]+0.5 <= c[1] && c[1]+0.5 <= c[2]) {
		return bad("split.centres", "grade-centres", "", "split.centres must rise by at least 0.5 stops each: shadow, middle, high; got %v", c)
	}
	if w := g.Split.Spread[1]; w < 0.25 {
		return bad("split.spread", "grade-spread", "", "split.spread's width is %v stops; at least 0.25", w)
	}
	for _, l := range []struct {
		key    string
		points [][2]float64
	}{
		{"curve.master", g.Curve.Master},
		{"curve.red", g.Curve.Red},
		{"curve.green", g.Curve.Green},
		{"curve.blue", g.Curve.Blue},
		{"curve.foot", g.Curve.Foot},
	} {
		for i := 1; i < len(l.points); i++ {
			for axis, what := range []string{"from", "to"} {
				if a, b := l.points[i-1][axis], l.points[i][axis]; b <= a {
					return bad(l.key, "grade-points", "A tone curve must rise: order the points and don't repeat one.",
						"%s: point %d goes %s %v after %v; each must be larger than the one before", l.key, i+1, what, b, a)
				}
			}
		}
	}
	if g.Convert.By == "lut" && g.Convert.LUT == "" && !g.Convert.Off {
		return bad("convert", "grade-lut-missing", "", `convert.by is "lut" but convert.lut names no file`)
	}
	if g.Look.LUT == "" && !g.Look.Off {
		return bad("look", "grade-lut-missing", "Name a LUT file, or put off = true.", "look is on but look.lut names no file")
	}
	return nil
}

// badName tells of an id that nothing is called, at the key that says it.
func badName(key string, err error, bad faulter) error {
	f, ok := fault.As(err)
	if !ok {
		return err
	}
	return bad(key, f.Code, f.Hint, "%s: %s", key, f.Message)
}

func checkWhite(w White, key string, bad faulter) error {
	n := 0
	for _, given := range []bool{w.XY != nil, w.CCT != nil, w.Card != nil} {
		if given {
			n++
		}
	}
	switch {
	case n > 1:
		return bad(key, "grade-white-twice", "", "%s is given in two ways; give one of xy, cct, card", key)
	case w.Duv != nil && w.CCT == nil:
		return bad(key, "grade-duv-alone", "", "%s has duv without cct", key)
	case w.XY != nil && w.XY[0]+w.XY[1] >= 1:
		return bad(key, "grade-xy", "", "%s: x + y must be below 1", key)
	}
	return nil
}

// checkTags holds every setting to its range and oneof tags.
func checkTags(v reflect.Value, prefix string, bad faulter) error {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		key := tomlKey(f)
		if key == "" {
			continue
		}
		key = join(prefix, key)
		fv := v.Field(i)
		if fv.Kind() == reflect.Pointer {
			if fv.IsNil() {
				continue
			}
			fv = fv.Elem()
		}
		if fv.Kind() == reflect.Struct {
			if err := checkTags(fv, key, bad); err != nil {
				return err
			}
			continue
		}
		if words := f.Tag.Get("oneof"); words != "" {
			if err := checkWord(fmt.Sprint(fv.Interface()), strings.Split(words, ","), key, bad); err != nil {
				return err
			}
		}
		if r := f.Tag.Get("range"); r != "" {
			if err := checkRange(fv, r, f.Tag.Get("unit"), key, bad); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkWord(got string, words []string, key string, bad faulter) error {
	if slices.Contains(words, got) {
		return nil
	}
	hint := ""
	if near, ok := fault.Nearest(got, words); ok {
		hint = "Did you mean " + near + "?"
	}
	return bad(key, "grade-word", hint, "%s is %q; it can be %s", key, clip(got), strings.Join(words, ", "))
}

func checkRange(v reflect.Value, tag, unit, key string, bad faulter) error {
	low, high, _ := strings.Cut(tag, "..")
	lo, err1 := strconv.ParseFloat(low, 64)
	hi, err2 := strconv.ParseFloat(high, 64)
	if err1 != nil || err2 != nil {
		return fmt.Errorf("grade: setting %s has the malformed range tag %q", key, tag)
	}
	if unit != "" {
		unit = " " + unit
	}
	var x float64
	switch v.Kind() {
	case reflect.Float64:
		x = v.Float()
	case reflect.Int:
		x = float64(v.Int())
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if err := checkRange(v.Index(i), tag, strings.TrimSpace(unit), key, bad); err != nil {
				return err
			}
		}
		return nil
	}
	if !(x >= lo && x <= hi) {
		return bad(key, "grade-range", "", "%s is %v%s; it can be %s to %s%s", key, x, unit, low, high, unit)
	}
	return nil
}

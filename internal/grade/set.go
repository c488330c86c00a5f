package grade

import (
	"reflect"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"lampwise/internal/fault"
)

// Set changes one setting, given as it would stand in the file with its full
// key: "look.strength=0.5", "split.high.mired = 12", "convert.by=lut". A text
// may come without quotes. The grade is changed only if it is whole afterwards.
func (g *Grade) Set(assignment string) error {
	key, text, ok := strings.Cut(assignment, "=")
	key, text = strings.TrimSpace(key), strings.TrimSpace(text)
	if !ok || key == "" || text == "" {
		return fault.New(fault.Usage, "grade-set", "Give stage.key=value, for example look.strength=0.5", "%q is no setting", assignment)
	}
	if key == "schema" {
		return fault.New(fault.Usage, "grade-schema", "It says how the file is laid out, which lampwise sees to.", "schema is no setting")
	}
	var holder map[string]any
	if err := toml.Unmarshal([]byte("v = "+text), &holder); err != nil || len(holder) != 1 {
		holder = map[string]any{"v": text} // a word without quotes
	}
	value := holder["v"]
	parts := strings.Split(key, ".")
	for i := len(parts) - 1; i > 0; i-- {
		value = map[string]any{parts[i]: value}
	}
	changed := g.clone()
	f := filler{}
	if err := f.table(map[string]any{parts[0]: value}, reflect.ValueOf(changed).Elem(), ""); err != nil {
		return err
	}
	if err := changed.check(f.fault); err != nil {
		return err
	}
	*g = *changed
	return nil
}

// clone returns a deep copy; the comments, which Set never changes, are shared.
func (g *Grade) clone() *Grade {
	c := *g
	copyTree(reflect.ValueOf(&c).Elem())
	return &c
}

// copyTree gives v its own copies of what its pointers and slices hold.
func copyTree(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			fresh := reflect.New(v.Type().Elem())
			fresh.Elem().Set(v.Elem())
			copyTree(fresh.Elem())
			v.Set(fresh)
		}
	case reflect.Slice:
		if !v.IsNil() {
			fresh := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
			reflect.Copy(fresh, v)
			v.Set(fresh)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				copyTree(v.Field(i))
			}
		}
	}
}

package light

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestEdit(t *testing.T) {
	const text = `# a room
schema = 1
title = "one # two" # said

[camera]
at = [2.0,
  1.0, # how far
  1.4] # of the lens
f = 2.8	# wide

[[lamp]]
name = "key"
level = 0.5              # fraction of full light
[lamp.diffusion]
size = [1, 1]

# the other side
[[lamp]]
name = 'fill'

# Things
[[thing]]
name = "bench"
`
	for _, c := range []struct {
		name     string
		change   PlanChange
		old, new string
	}{
		{"a number, its comment kept", PlanChange{"lamp.0.level", 0.25}, "level = 0.5 ", "level = 0.25 "},
		{"a tab before the comment", PlanChange{"camera.f", 4.0}, "f = 2.8\t#", "f = 4\t#"},
		{"a text with a hash", PlanChange{"title", `so "said"`}, `"one # two" # said`, `"so \"said\"" # said`},
		{"a list over lines", PlanChange{"camera.at", []any{1.0, 2.0, 3.0}}, "[2.0,\n  1.0, # how far\n  1.4] # of", "[1, 2, 3] # of"},
		{"a new key goes behind its table's last", PlanChange{"camera.nd_stops", 2.0}, "# wide\n", "# wide\nnd_stops = 2\n"},
		{"a new key behind a list over lines", PlanChange{"lamp.1.aim", "face"}, "name = 'fill'\n", "name = 'fill'\naim = \"face\"\n"},
		{"a new key before the inner table", PlanChange{"lamp.0.at", []any{1.0, 1.0, 1.0}}, "full light\n", "full light\nat = [1, 1, 1]\n"},
		{"a key of an inner table", PlanChange{"lamp.0.diffusion.size", []any{2.0, 2.0}}, "size = [1, 1]", "size = [2, 2]"},
		{"a key taken out", PlanChange{"lamp.0.level", nil}, "level = 0.5              # fraction of full light\n", ""},
		{"nothing to take out", PlanChange{"lamp.1.level", nil}, "", ""},
		{"a lamp taken out, the next one's comment kept", PlanChange{"lamp.0", nil}, text[strings.Index(text, "[[lamp]]"):strings.Index(text, "# the other")], ""},
		{"the last lamp taken out", PlanChange{"lamp.1", nil}, "[[lamp]]\nname = 'fill'\n\n", ""},
		{"a lamp added behind the last", PlanChange{"lamp.2", map[string]any{"at": []any{1.0, 2.0, 2.0}, "kind": "bulb", "name": "rim"}}, "name = 'fill'\n", "name = 'fill'\n\n[[lamp]]\nname = \"rim\"\nkind = \"bulb\"\nat = [1, 2, 2]\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			want := strings.Replace(text, c.old, c.new, 1)
			for _, end := range []string{"\n", "\r\n"} {
				got, err := Edit([]byte(strings.ReplaceAll(text, "\n", end)), []PlanChange{c.change}, "p.toml")
				if err != nil {
					t.Fatal(err)
				}
				if string(got) != strings.ReplaceAll(want, "\n", end) {
					t.Errorf("got\n%s\nwant\n%s", got, want)
				}
			}
		})
	}
	for _, c := range []PlanChange{{"lamp.7.level", 1.0}, {"lamp.3", map[string]any{"name": "x"}}, {"lamp.1", 3.0}, {"", 1.0}, {"camera.f", map[string]any{}}, {"title", "a\nb"}, {"room.width", 3.0}} {
		if got, err := Edit([]byte(text), []PlanChange{c}, "p.toml"); err == nil {
			t.Errorf("%v: taken: %s", c, got)
		}
	}
}

// TestEditKeepsThePlan holds that an edited plan is the plan with just that
// changed, and that taking the change back gives the first text again.
func TestEditKeepsThePlan(t *testing.T) {
	base, err := Parse([]byte(Example), "example")
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(rt *rapid.T) {
		i := rapid.IntRange(0, len(base.Lamps)-1).Draw(rt, "lamp")
		level := float64(rapid.IntRange(1, 999).Draw(rt, "level")) / 1000
		key := "lamp." + string(rune('0'+i)) + ".level"
		out, err := Edit([]byte(Example), []PlanChange{{key, level}}, "example")
		if err != nil {
			rt.Fatal(err)
		}
		p, err := Parse(out, "example")
		if err != nil {
			rt.Fatal(err)
		}
		for k := range base.Lamps {
			want := *base.Lamps[k].Level
			if k == i {
				want = level
			}
			if *p.Lamps[k].Level != want {
				rt.Errorf("lamp %d has level %g, want %g", k, *p.Lamps[k].Level, want)
			}
		}
		back, err := Edit(out, []PlanChange{{key, *base.Lamps[i].Level}}, "example")
		if err != nil {
			rt.Fatal(err)
		}
		if base.Line(key) > 0 && string(back) != Example {
			rt.Errorf("taken back it isn't the first text")
		}
		if a, b := strings.Split(Example, "\n"), strings.Split(string(out), "\n"); base.Line(key) > 0 {
			if !slices.Equal(slices.Delete(a, base.Line(key)-1, base.Line(key)), slices.Delete(b, base.Line(key)-1, base.Line(key))) {
				rt.Errorf("other lines changed")
			}
		}
	})
}

package light

import (
	"strings"
	"sync"
	"testing"
)

// One scene made from the other, again and again and read in between: each says
// what the plan says from the start, falloff too.
func TestKeptViewsAreTrue(t *testing.T) {
	text := twelveLamps()
	s := sceneOf(t, text)
	reads := func(s *Scene) (all [][]Lit, falloff []Shift) {
		for _, p := range s.Places {
			all = append(all, s.Read(p))
		}
		return all, s.Falloff()
	}
	reads(s)
	for _, change := range [][2]string{
		{"at = [0.5, 0.4, 1.6]", "at = [0.7, 0.5, 1.7]"},    // a panel, which hides walls
		{"at = [0.7, 0.5, 1.7]", "at = [0.9, 0.5, 1.7]"},    // and on
		{"kind = \"bulb\"", "kind = \"bulb\"\nlevel = 0.3"}, // a dimmer
		{"name = \"lamp-4\"", "name = \"four\""},            // another name
		{"grid = 40\n", ""},                                 // another beam
		{"[[lamp]]\nname = \"lamp-1\"", "[[lamp]]\nname = \"x\"\nkind = \"bulb\"\nat = [3, 1, 2]\n[[lamp]]\nname = \"lamp-1\""}, // the others' numbers shift
		{"[[thing]]\nname = \"bench\"", "[[place]]\nname = \"face-lit\"\nat = [2.05, 2.91, 1.2]\nnormal = [0.5, -1, 0]\n[[thing]]\nname = \"bench\""},
		{"size = [1.5, 0.5, 0.05]", "size = [1.2, 0.5, 0.05]"}, // another thing
	} {
		next := strings.Replace(text, change[0], change[1], 1)
		if next == text {
			t.Fatalf("%q: nothing changed", change[0])
		}
		text = next
		p := parsed(t, text)
		again, err := s.Again(p)
		if err != nil {
			t.Fatal(err)
		}
		anew := sceneOf(t, text)
		got, gotFalloff := reads(again)
		want, wantFalloff := reads(anew)
		for k := range want {
			for l := range want[k] {
				if got[k][l] != want[k][l] {
					t.Errorf("%q: lamp %d at %s: %v kept, %v anew", change[1], l, anew.Places[k].Name, got[k][l], want[k][l])
				}
			}
		}
		for k := range wantFalloff {
			if gotFalloff[k] != wantFalloff[k] {
				t.Errorf("%q: %v kept, %v anew", change[1], gotFalloff[k], wantFalloff[k])
			}
		}
		s = again
	}
}

// Many may read a scene, and make another from it, at a time.
func TestScenesAreReadAtOnce(t *testing.T) {
	s := sceneOf(t, twelveLamps())
	p := parsed(t, strings.Replace(twelveLamps(), "at = [0.5, 0.4, 1.6]", "at = [0.7, 0.5, 1.7]", 1))
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			s.Falloff()
			again, err := s.Again(p)
			if err != nil {
				t.Error(err)
				return
			}
			for _, place := range again.Places {
				again.Read(place)
			}
		})
	}
	wg.Wait()
}

package demo

import (
	"math"
	"testing"
)

// The card is where it was put, faces as it was turned and is 18 % grey; the
// lit cheek looks to the key's side, the shaded one away from it.
func TestSurfaces(t *testing.T) {
	s := Surfaces(180)
	card := s["card"]
	for i, want := range []float32{cardFrame.z.x, cardFrame.z.y, cardFrame.z.z} {
		if math.Abs(card.Normal[i]-float64(want)) > 1e-3 {
			t.Errorf("the card faces %v, not %v", card.Normal, cardFrame.z)
			break
		}
	}
	if math.Abs(card.Reflectance-0.18) > 0.005 {
		t.Errorf("the card reflects %.3f", card.Reflectance)
	}
	if lit, shade := s["face-lit"], s["face-shade"]; !(lit.Normal[0] < shade.Normal[0]) {
		t.Errorf("the cheeks face %v and %v", lit.Normal, shade.Normal)
	}
}

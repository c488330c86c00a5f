package lamps

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

func TestRegisterTry(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	g := newGarage(rng, 5)
	cam := newCamera()
	const w, h = 480, 270
	ref := cam.average(rng, mixed(g.render(w, h, pose{}, nudge{}), flat([]float64{1, 1, 1, 1, 1})), 12)
	for _, n := range []nudge{{}, {dx: .4, dy: -.3}, {dx: 3.3, dy: 1.7}, {dx: -9.6, dy: 5.2, degrees: .4, scale: 1.004}, {dx: 25.4, dy: -14.2, degrees: -1.2, scale: .985}, {dx: 2, degrees: 2.5, scale: 1.03}} {
		light := mixed(g.render(w, h, pose{x: .06, lean: .03}, n), flat([]float64{.5, 1.4, 1, .6, 1}))
		today := cam.shoot(rng, light)
		start := time.Now()
		r := Register(ref.Image, today.Image, .003)
		if n.scale == 0 {
			n.scale = 1
		}
		fmt.Printf("%+v  err dx %.4f±%.4f dy %.4f±%.4f rot px %.4f±%.4f scale px %.4f±%.4f kept %.2f %v %v\n", n, r.DX-n.dx, r.Error[0], r.DY-n.dy, r.Error[1], (r.Rotation-n.degrees*math.Pi/180)*240, r.Error[2]*240, (r.Scale-n.scale)*240, r.Error[3]*240, r.Kept, r.Sure, time.Since(start))
	}
}

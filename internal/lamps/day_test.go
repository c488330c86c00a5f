package lamps

import (
	"math"
	"math/rand/v2"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
)

// day is the truth of one generated day.
type day struct {
	stops   []float64 // of each lamp; −Inf is off
	colour  []float64 // stops of red against blue, of each lamp
	gain    float64
	balance float64 // mired
	ambient float64
	pose    pose
	nudge   nudge
	frames  int
	moved   int // the lamp that was pushed aside, or −1
}

// cameraMatrix is a made sensor's matrix to its RGB: rows sum to 1, and are as
// far from the identity as colour filters make them.
var cameraMatrix = colour.Mat3{{1.62, -.48, -.14}, {-.20, 1.45, -.25}, {.03, -.52, 1.49}}

// balanceMatrix is what a white balance moved by mired does to recorded RGB.
func balanceMatrix(mired float64) colour.Mat3 {
	s := mired / miredPerStop / 2
	return cameraMatrix.Mul(colour.Diagonal(math.Exp2(s), 1, math.Exp2(-s))).Mul(cameraMatrix.Inverse())
}

func drawDay(rng *rand.Rand, n int) day {
	d := day{stops: make([]float64, n), colour: make([]float64, n), frames: []int{1, 4, 8}[rng.IntN(3)]}
	for i := range d.stops {
		d.stops[i] = .02 * rng.NormFloat64()
	}
	sizes := []float64{.1, .2, .4}
	drifts := 0
	switch u := rng.Float64(); {
	case u < .4:
	case u < .75:
		drifts = 1
	default:
		drifts = 2 + rng.IntN(2)
	}
	for _, i := range rng.Perm(n)[:min(drifts, n)] {
		d.stops[i] = sizes[rng.IntN(3)] * float64(1-2*rng.IntN(2))
		switch u := rng.Float64(); {
		case u < .06:
			d.stops[i] = math.Inf(-1)
		case u < .16:
			d.colour[i] = .35 * float64(1-2*rng.IntN(2))
		}
	}
	if rng.Float64() < .3 {
		d.gain = []float64{1. / 3, 2. / 3, -1. / 3, -1}[rng.IntN(4)]
	}
	if rng.Float64() < .15 {
		d.balance = 25 * float64(1+rng.IntN(2)) * float64(1-2*rng.IntN(2))
	}
	d.moved = -1
	if rng.Float64() < .1 {
		d.moved = rng.IntN(n)
	}
	d.ambient = .7 * rng.NormFloat64()
	d.pose = pose{x: .08 * rng.NormFloat64(), z: .05 * rng.NormFloat64(), lean: .04 * rng.NormFloat64()}
	switch u := rng.Float64(); {
	case u < .1:
		d.pose.absent = true
	case u < .35:
		d.pose.shirt = vec{.05 + .5*rng.Float64(), .05 + .5*rng.Float64(), .05 + .5*rng.Float64()}
	}
	if rng.Float64() < .25 {
		d.nudge = nudge{4 * rng.NormFloat64(), 3 * rng.NormFloat64(), .2 * rng.NormFloat64(), 1 + .003*rng.NormFloat64()}
	}
	return d
}

// shoot films the day.
func (d *day) shoot(rng *rand.Rand, g *garage, cam madeCamera, mix []float64, w, h int) *Light {
	light, cam := d.light(g, cam, mix, w, h)
	return cam.average(rng, light, d.frames)
}

// light is the day's light, and the camera as it stands.
func (d *day) light(g *garage, cam madeCamera, mix []float64, w, h int) (*picture.Image, madeCamera) {
	if d.moved >= 0 {
		pushed := *g
		pushed.lamps = append([]madeLamp{}, g.lamps...)
		l := &pushed.lamps[d.moved]
		l.at = l.at.add(vec{.3 - .6*float64(d.moved%2), -.15, .1})
		g = &pushed
	}
	parts := g.render(w, h, d.pose, d.nudge)
	factors := flat(mix)
	for i, s := range d.stops {
		for c := range 3 {
			factors[i][c] *= math.Exp2(s + d.colour[i]*float64(1-c)/2)
		}
	}
	for c := range 3 {
		factors[len(d.stops)][c] = math.Exp2(d.ambient * (1 + .1*float64(c-1)))
	}
	cam.gain *= math.Exp2(d.gain)
	cam.balance = balanceMatrix(d.balance)
	return mixed(parts, factors), cam
}

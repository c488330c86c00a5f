package lamps

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

var dbgSet = flag.Int("dbgset", 0, "")
var dbgDay = flag.Int("dbgday", 6, "")

func TestDebugDay(t *testing.T) {
	const w, h = 320, 180
	made := *dbgSet
	rng := rand.New(rand.NewPCG(*seedFlag, uint64(made)))
	lamps := 3 + rng.IntN(5)
	g, s, cam := madeSet(t, rng, lamps, w, h)
	var d day
	var today *Light
	for made < *dbgDay {
		made++
		d = drawDay(rng, lamps)
		today = d.shoot(rng, g, cam, s.Mix, w, h)
	}
	fmt.Printf("%+v\n", d)
	r := &CheckReport{}
	r.Camera.Registration = Register(s.PictureOf(s.Mix), today.Image, .003)
	al, seen := today.Align(r.Camera.Registration.Similarity)
	b := newBins(binSide(w), w, h, s.usable(al, seen))
	truth := [3][]float64{}
	for c := range 3 {
		for i, x := range d.stops {
			truth[c] = append(truth[c], s.Mix[i]*math.Exp2(x+d.gain+d.colour[i]*float64(1-c)/2))
		}
		truth[c] = append(truth[c], math.Exp2(d.gain+d.ambient*(1+.1*float64(c-1))))
	}
	for pass, st := range [][3][]float64{s.starts(newRobustFit(s.Separation, al, b)), truth} {
		f := newRobustFit(s.Separation, al, b)
		f.expect(s.starts(f))
		half, ok := 0, f.run(st, 40)
		f.covariance()
		fmt.Println(pass, "half", half, ok, "q", f.q, "explained", f.explained(), "blockShare", f.blockShare, "n", f.n)
		for c := range 3 {
			for k := range f.k {
				fmt.Printf(" %7.4f±%.4f", math.Log2(f.beta[c][k]/truth[c][k]), math.Sqrt(f.cov[(c*f.k+k)*(3*f.k+1)])/f.beta[c][k]/math.Ln2)
			}
			fmt.Println()
		}
		// map of weights
		grid := make([]byte, b.w*b.h)
		for i := range grid {
			grid[i] = ' '
		}
		for i, at := range f.place {
			grid[at] = "0123456789"[int(f.weight[i]*9.99)]
		}
		for y := 0; y < b.h; y += 2 {
			fmt.Println(string(grid[y*b.w : (y+1)*b.w]))
		}
	}
}

func TestDebugCheck(t *testing.T) {
	const w, h = 320, 180
	made := *dbgSet
	rng := rand.New(rand.NewPCG(*seedFlag, uint64(made)))
	lamps := 3 + rng.IntN(5)
	g, s, cam := madeSet(t, rng, lamps, w, h)
	var d day
	var today *Light
	for made < *dbgDay {
		made++
		d = drawDay(rng, lamps)
		today = d.shoot(rng, g, cam, s.Mix, w, h)
	}
	debugPrint = true
	r, _ := s.Check(today)
	fmt.Printf("%+v\n", r.Camera)
	for _, l := range r.Lamps {
		fmt.Printf("%+v\n", l)
	}
}

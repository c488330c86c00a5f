package job

import (
	"math"

	"lampwise/internal/draw"
)

// cables measures how long each lamp's cable must be: along the walls to its
// circuit's socket, and up to the lamp.
func (out *Planned) cables() {
	p := out.scene.Plan
	for i := range p.Lamps {
		if at, lamp, high, ok := out.socketOf(i); ok {
			_, metres := cableRun(float64(p.Room.Width), float64(p.Room.Depth), lamp, at, 0)
			out.Lamps[i].Cable = metres + math.Max(0, high)
		}
	}
}

// socketOf is where the socket of lamp i's circuit and the lamp stand on the
// floor plan, and how high the lamp hangs; ok is false where no socket is said.
func (out *Planned) socketOf(i int) (at, lamp [2]float64, high float64, ok bool) {
	p := out.scene.Plan
	for k := range p.Circuits {
		if c := &p.Circuits[k]; c.Name == p.Lamps[i].Circuit && c.At != nil {
			o, _, _, _ := out.scene.Axis(i)
			return [2]float64{float64(c.At[0]), float64(c.At[1])}, [2]float64{o.X, o.Y}, o.Z, true
		}
	}
	return at, lamp, 0, false
}

// Cables are drawn a little off the wall, each beside the one before.
const (
	cableGap  = 0.04 // m
	cableNext = 0.02
)

// cables draws each lamp's cable straight to the nearest wall and along the
// walls to its circuit's socket, the shorter way round; and the sockets.
func (s *sheet) cables() {
	p := s.out.scene.Plan
	for i := range p.Lamps {
		at, lamp, _, ok := s.out.socketOf(i)
		if !ok {
			continue
		}
		path, _ := cableRun(s.w, s.h, lamp, at, cableGap+cableNext*float64(i))
		var pts [][2]float64
		for _, q := range path {
			pts = append(pts, s.at(q[0], q[1]))
		}
		s.Shape(pts, draw.Style{Stroke: draw.PaperLamp(i), Width: 0.22, Dash: []float64{0.5, 0.9}, Open: true})
	}
	for k := range p.Circuits {
		c := &p.Circuits[k]
		if c.At == nil {
			continue
		}
		q := s.at(float64(c.At[0]), float64(c.At[1]))
		s.Circle(q[0], q[1], 1.1, draw.Style{Stroke: draw.Black, Width: 0.35, Fill: draw.White})
		s.Circle(q[0], q[1], 0.35, draw.Style{Fill: draw.Black})
		s.Keep(q[0]-1.2, q[1]-1.2, q[0]+1.2, q[1]+1.2)
		s.labels = append(s.labels, func() { s.Label(q[0], q[1], 1.6, 2.5, draw.Pencil, "socket, "+c.Name, s.frame) })
	}
}

// cableRun is a way from a lamp to a socket along the walls of a room of w×d,
// gap metres from them, and its length on the floor.
func cableRun(w, d float64, lamp, socket [2]float64, gap float64) (path [][2]float64, metres float64) {
	// A place on the walls by how far round it is, anticlockwise from 0, 0.
	round := 2 * (w + d)
	onWall := func(p [2]float64) float64 {
		type wall struct{ away, at float64 }
		best := wall{math.Inf(1), 0}
		for _, c := range []wall{{p[1], p[0]}, {w - p[0], w + p[1]}, {d - p[1], w + d + (w - p[0])}, {p[0], 2*w + d + (d - p[1])}} {
			if c.away < best.away {
				best = c
			}
		}
		return math.Mod(best.at, round)
	}
	place := func(t float64) [2]float64 {
		t = math.Mod(t+round, round)
		switch {
		case t < w:
			return [2]float64{math.Min(math.Max(t, gap), w-gap), gap}
		case t < w+d:
			return [2]float64{w - gap, math.Min(math.Max(t-w, gap), d-gap)}
		case t < 2*w+d:
			return [2]float64{math.Min(math.Max(2*w+d-t, gap), w-gap), d - gap}
		}
		return [2]float64{gap, math.Min(math.Max(round-t, gap), d-gap)}
	}
	a, b := onWall(lamp), onWall(socket)
	ahead := math.Mod(b-a+round, round)
	path = [][2]float64{lamp, place(a)}
	corners := []float64{0, w, w + d, 2*w + d}
	if ahead <= round/2 {
		for k := range 8 {
			if c := corners[k%4] + round*float64(k/4); c > a && c < a+ahead {
				path = append(path, place(c))
			}
		}
	} else {
		for k := 7; k >= 0; k-- {
			if c := corners[k%4] + round*float64(k/4) - round; c < a && c > a-(round-ahead) {
				path = append(path, place(c))
			}
		}
	}
	path = append(path, place(b), socket)
	for i := 1; i < len(path); i++ {
		metres += math.Hypot(path[i][0]-path[i-1][0], path[i][1]-path[i-1][1])
	}
	return path, metres
}

package region

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lampwise/internal/colour"
	"lampwise/internal/picture"
	"lampwise/internal/unit"
)

// Face is a face that was found.
type Face struct {
	// Box is square in pixels, from above the brows to the chin.
	Box Box `json:"box"`
	// Roll is how far the head leans, clockwise as seen.
	Roll       unit.Degree `json:"roll"`
	Confidence float64     `json:"confidence"`
	Reason     string      `json:"reason"`
}

// Sure says whether the face may be used without being asked about.
func (f Face) Sure() bool { return f.Confidence >= Sure }

// How the cascade's score becomes a confidence. Measured with these settings:
// of scikit-image's lfw_subset 98 faces of 100 score 90..1314 (median 540), two
// nothing; two portraits, turned, shrunk and noisy, 103..405. What isn't a face,
// in nineteen photographs turned, shrunk and noisy (400 searches), stays at 56 or
// below once small windows are discounted, but for a cat held upright (up to
// 100) and stars (up to 120; see pointsOnDark). So a score of 80 is where Sure lies.
const (
	evenScore   = 52.3 // at which it's as likely as not: 80·√(3/7)
	fullSide    = 48   // working pixels from which a face has all its detail
	leastShown  = 0.02 // confidence below which a place isn't told at all
	darkestPart = 4.0  // stops below its brightest in which most of a face lies
	darkConfine = 0.4
)

// Faces finds the faces of a picture in any space, the likeliest main one
// first. What isn't Sure is among them, told as such. Profiles, faces turned
// up or down, and faces darker than their surroundings may be missed.
func Faces(im *picture.Image) []Face {
	g := faceTone(im)
	var out []Face
	for _, w := range look(g) {
		f := Face{Roll: unit.Degree(w.roll), Confidence: faceConfidence(w)}
		if f.Confidence < leastShown {
			continue
		}
		f.Box = Box{
			(w.x + 0.5 - w.side/2) / float64(g.w), (w.y + 0.5 - w.side/2) / float64(g.h),
			w.side / float64(g.w), w.side / float64(g.h),
		}
		f.Reason = fmt.Sprintf("the face finder answers with %.0f (80 is sure), %.1f %% of the picture's height", w.score, 100*f.Box.H)
		if w.side < fullSide {
			f.Reason += ", and it is small"
		}
		if f.pointsOnDark(im) && f.Confidence > darkConfine {
			f.Confidence = darkConfine
			f.Reason += ", but its light is that of bright spots on a dark ground"
		}
		out = append(out, f)
	}
	sortFaces(out)
	return out
}

func sortFaces(f []Face) {
	slices.SortStableFunc(f, func(a, b Face) int { return cmp.Compare(b.weight(), a.weight()) })
}

func faceConfidence(w window) float64 {
	s := w.score
	if w.side < fullSide {
		s *= w.side * w.side / (fullSide * fullSide)
	}
	return s * s / (s*s + evenScore*evenScore)
}

// weight ranks faces: the sure before the others, then the large, near the
// middle of the picture, to whom the frame was given.
func (f Face) weight() float64 {
	x, y := f.Box.Middle()
	off := math.Hypot(x-0.5, y-0.5)
	v := f.Confidence * f.Box.H * (1.2 - off)
	if f.Sure() {
		v += 10
	}
	return v
}

// local gives a place in the face's own measure: sides from its middle, to its
// right as seen and down, standing upright.
func (f Face) local(x, y float64) (u, v float64) {
	mx, my := f.Box.Middle()
	dx, dy := (x-mx)/f.Box.W, (y-my)/f.Box.H
	sin, cos := math.Sincos(float64(f.Roll.Radian()))
	return dx*cos + dy*sin, -dx*sin + dy*cos
}

// pointsOnDark says that less than two fifths of the face lies within
// darkestPart stops of its brightest: stars and lamps at night do, a face with
// one side in shade doesn't.
func (f Face) pointsOnDark(im *picture.Image) bool {
	const n = 24
	var v []float64
	for j := range n {
		for i := range n {
			x := f.Box.X + f.Box.W*(float64(i)+0.5)/n
			y := f.Box.Y + f.Box.H*(float64(j)+0.5)/n
			if u, w := f.local(x, y); !faceSkin.holds(u, w) {
				continue
			}
			p := im.At(min(max(int(x*float64(im.W)), 0), im.W-1), min(max(int(y*float64(im.H)), 0), im.H-1))
			v = append(v, lightOf(p, im.Space))
		}
	}
	if len(v) == 0 {
		return false
	}
	least := quantile(v, 0.95) * math.Exp2(-darkestPart)
	lit := 0
	for _, x := range v {
		if x >= least {
			lit++
		}
	}
	return 5*lit < 2*len(v)
}

// lightOf is the luminance of a pixel. A camera signal has no light without
// its curve: there a step of a twelfth is taken for a stop, as log curves have
// about twelve to fourteen stops over their range.
func lightOf(p [3]float64, s picture.Space) float64 {
	switch s {
	case picture.SpaceDisplay:
		for i := range p {
			p[i] = colour.BT1886.Decode(p[i])
		}
	case picture.SpaceSignal:
		for i := range p {
			p[i] = math.Exp2(12 * p[i])
		}
	}
	y := bt709Luma[0]*p[0] + bt709Luma[1]*p[1] + bt709Luma[2]*p[2]
	if math.IsNaN(y) || math.IsInf(y, 0) {
		return 0
	}
	return y
}

// FacesOver finds faces that stay over several frames of one clip: boxes are
// medians over the frames, the confidence is the middle one times the part of
// the frames that show the face. The likeliest main one comes first.
func FacesOver(frames []*picture.Image) []Face {
	type group struct{ faces []Face }
	var groups []*group
	for _, im := range frames {
	next:
		for _, f := range Faces(im) {
			for _, g := range groups {
				if overlap(g.faces[len(g.faces)-1].Box, f.Box) > sameFace {
					g.faces = append(g.faces, f)
					continue next
				}
			}
			groups = append(groups, &group{[]Face{f}})
		}
	}
	var out []Face
	for _, g := range groups {
		seen := min(float64(len(g.faces))/float64(len(frames)), 1)
		pick := func(part func(Face) float64) float64 {
			v := make([]float64, len(g.faces))
			for i, f := range g.faces {
				v[i] = part(f)
			}
			return median(v)
		}
		f := Face{
			Box: Box{
				pick(func(f Face) float64 { return f.Box.X }), pick(func(f Face) float64 { return f.Box.Y }),
				pick(func(f Face) float64 { return f.Box.W }), pick(func(f Face) float64 { return f.Box.H }),
			},
			Roll:       unit.Degree(pick(func(f Face) float64 { return float64(f.Roll) })),
			Confidence: seen * pick(func(f Face) float64 { return f.Confidence }),
		}
		if f.Confidence < leastShown {
			continue
		}
		f.Reason = fmt.Sprintf("found in %d of %d frames", min(len(g.faces), len(frames)), len(frames))
		out = append(out, f)
	}
	sortFaces(out)
	return out
}

// overlap of two boxes: what they share over what they cover together.
func overlap(a, b Box) float64 {
	w := min(a.X+a.W, b.X+b.W) - max(a.X, b.X)
	h := min(a.Y+a.H, b.Y+b.H) - max(a.Y, b.Y)
	if w <= 0 || h <= 0 {
		return 0
	}
	return w * h / (a.W*a.H + b.W*b.H - w*h)
}

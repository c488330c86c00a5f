package lamps

import (
	"math"
	"math/bits"
	"slices"
	"sync"

	"lampwise/internal/fault"
	"lampwise/internal/picture"
)

// Separation is the outcome of a switch clip: what each lamp adds.
type Separation struct {
	Design *Design
	W, H   int
	// Picture holds what each lamp adds at level 1, in the design's order.
	Picture []*picture.Image
	// Ambient is the light that no switch turns off, as it was at the
	// middle of the clip.
	Ambient *picture.Image
	// Blind has a bit for each column of the design (the ambient last) that is
	// unknown at a pixel, since the holds that tell it are clipped there; nil
	// when every pixel knows all.
	Blind []uint16
	// Moving marks pixels where the figure moved within or between holds.
	Moving []bool
	Noise  Noise
	// Effective is the number of independent frames behind each hold.
	Effective []float64
	// AmbientScale is, for each hold and channel, how much ambient there was
	// against the middle of the clip; nil when it is taken as constant.
	AmbientScale [][3]float64
	// Gain is, for each hold and channel, the camera's gain against the
	// clip's usual; nil when it is taken as constant.
	Gain [][3]float64
	// Inflation is how much larger than measured noise explains the holds
	// differ from the sum of their lamps (variance ratio, ≥ 1), where the order
	// repeats itself enough to tell; 1 otherwise.
	Inflation float64
	// Misfit is the same for each bin of a grid of binSide(W), beyond
	// Inflation: where the figure or its shadows moved between holds. Nil when
	// the order doesn't repeat itself.
	Misfit []float64
	// Figure marks bins of the same grid where the presenter sits, when that is
	// known: what is seen there counts for little in a check.
	Figure []bool
	// Spare is the number of holds beyond those needed.
	Spare int
}

// columns is the number of unknown pictures.
func (s *Separation) columns() int { return s.Design.Columns() }

// lampCount is the number of lamps.
func (s *Separation) lampCount() int { return len(s.Picture) }

// image returns picture k, the ambient being the last.
func (s *Separation) image(k int) *picture.Image {
	if k == len(s.Picture) {
		return s.Ambient
	}
	return s.Picture[k]
}

// row writes the design's row of hold h for channel c, with ambient drift and
// camera gain in it.
func (s *Separation) row(h, c int, dst []float64) {
	s.Design.channelRow(h, c, dst)
	if s.AmbientScale != nil {
		dst[len(dst)-1] = s.AmbientScale[h][c]
	}
	if s.Gain != nil {
		for k := range dst {
			dst[k] *= s.Gain[h][c]
		}
	}
}

// SeparateOptions are what is known besides the holds.
type SeparateOptions struct {
	Noise Noise
	// AmbientScale and Gain as in Separation, when they have been found.
	AmbientScale, Gain [][3]float64
}

// Separate takes the holds of a switch clip apart: for each pixel and channel
// the weighted least-squares solution of hold = Σ level·lamp + ambient. The
// weights are each hold's inverse variance at the level that a first,
// unweighted fit predicts (at the measured level they would pull the fit
// down). A clipped sample has no weight in any channel; a column that only
// clipped holds tell is marked blind there, and its value is the least
// possible (from the clipped samples).
func Separate(holds []Hold, design *Design, opt SeparateOptions) (*Separation, error) {
	if len(holds) != len(design.Level) {
		return nil, fault.New(fault.Input, "holds-count", "say the order as it was switched", "the order has %d holds, the clip %d", len(design.Level), len(holds))
	}
	if err := design.Rank().Err(); err != nil {
		return nil, err
	}
	w, h := holds[0].Mean.W, holds[0].Mean.H
	for i := range holds {
		if err := holds[i].Mean.Check(); err != nil {
			return nil, err
		}
		if holds[i].Mean.W != w || holds[i].Mean.H != h {
			return nil, fault.New(fault.Input, "holds-size", "", "holds differ in size")
		}
	}
	s := &Separation{
		Design: design, W: w, H: h, Noise: opt.Noise, AmbientScale: opt.AmbientScale, Gain: opt.Gain,
		Inflation: 1, Spare: len(holds) - design.Columns(),
	}
	for range design.Lamps {
		s.Picture = append(s.Picture, picture.NewImage(w, h, picture.SpaceSceneLinear))
	}
	s.Ambient = picture.NewImage(w, h, picture.SpaceSceneLinear)
	for i := range holds {
		s.Effective = append(s.Effective, holds[i].Mean.frames())
	}
	s.Moving = mergeMoving(holds, w*h)
	s.solvePixels(holds)
	s.measureMisfit(holds)
	s.findFigure()
	return s, nil
}

// measureMisfit compares the holds with the sum of their lamps, bin by bin.
func (s *Separation) measureMisfit(holds []Hold) {
	if s.Spare == 0 {
		return
	}
	n := s.columns()
	b := newBins(binSide(s.W), s.W, s.H, nil)
	pics := make([][]float64, n)
	for k := range n {
		pics[k] = b.means(s.image(k))
	}
	s.Misfit = make([]float64, len(b.count))
	row := make([]float64, n)
	together := s.Noise.together()
	for h := range holds {
		y := b.means(holds[h].Mean.Image)
		for c := range 3 {
			s.row(h, c, row)
			for i, area := range b.count {
				light := 0.0
				for k := range n {
					light += row[k] * pics[k][3*i+c]
				}
				r := y[3*i+c] - light
				s.Misfit[i] += r * r * s.Effective[h] * area / (together * s.variance(c, light))
			}
		}
	}
	freedom := float64(3 * s.Spare)
	for i := range s.Misfit {
		s.Misfit[i] /= freedom
	}
	// The lower quartile, since movement and its shadows may touch a good part
	// of the picture; χ²'s own quartile by Wilson and Hilferty's formula.
	q := 1 - 2/(9*freedom) - normalQuartile*math.Sqrt(2/(9*freedom))
	s.Inflation = max(1, quantile(slices.Clone(s.Misfit), .25)/(q*q*q))
	for i := range s.Misfit {
		s.Misfit[i] = max(1, s.Misfit[i]/s.Inflation)
	}
}

// normalQuartile is the 75 % point of the normal distribution.
const normalQuartile = 0.674490

func mergeMoving(holds []Hold, n int) []bool {
	var out []bool
	for i := range holds {
		for p, m := range holds[i].Moving {
			if m {
				if out == nil {
					out = make([]bool, n)
				}
				out[p] = true
			}
		}
	}
	return out
}

// solvePixels fills the pictures.
func (s *Separation) solvePixels(holds []Hold) {
	n, m := s.columns(), len(holds)
	// First fit: one weight a hold, so one matrix for all pixels of a channel.
	var first [3][]float64
	for c := range 3 {
		first[c] = s.pseudoInverse(c)
	}
	clipped := make([]uint64, s.W*s.H)
	for h := range holds {
		for p, c := range holds[h].Mean.Clipped {
			if c {
				clipped[p] |= 1 << h
			}
		}
	}
	known := newBlindness(s.Design)
	blind := make([]uint16, s.W*s.H)
	inRows(s.H, func(from, to int) {
		y := make([]float64, m)
		b := make([]float64, n)
		eq := newNormal(n)
		spread := newSpreading(s)
		for p := from * s.W; p < to*s.W; p++ {
			lost := clipped[p]
			if lost != 0 {
				blind[p] = known.of(lost)
			}
			for c := range 3 {
				for h := range m {
					y[h] = float64(holds[h].Mean.Pix[3*p+c])
				}
				for k := range n {
					b[k] = 0
					for h := range m {
						b[k] += first[c][k*m+h] * y[h]
					}
				}
				if s.Spare > 0 && (lost == 0 || blind[p] == 0) {
					s.weighted(eq, spread, y, b, c, lost)
				}
				for k := range n {
					s.image(k).Pix[3*p+c] = float32(b[k])
				}
			}
		}
	})
	for _, m := range blind {
		if m != 0 {
			s.Blind = blind
			break
		}
	}
}

// weighted refines b by the weights that its own predicted levels give. With
// the predicted level's noise in the weights the bias left is of second order.
// Holds of one row of the design are added as their mean.
func (s *Separation) weighted(eq *normal, p *spreading, y, b []float64, c int, lost uint64) {
	eq.reset()
	for r, row := range p.row[c] {
		frames, sum := 0.0, 0.0
		for _, h := range p.holds[c][r] {
			if lost>>h&1 == 0 {
				frames += s.Effective[h]
				sum += s.Effective[h] * y[h]
			}
		}
		if frames == 0 {
			continue
		}
		level := 0.0
		for k, v := range row {
			level += v * b[k]
		}
		eq.add(row, sum/frames, frames/s.variance(c, level))
	}
	if beta, ok := eq.solve(); ok {
		copy(b, beta)
	}
}

// variance of one frame's pixel, never 0.
func (s *Separation) variance(c int, level float64) float64 {
	return s.Noise.Variance(c, level) + noiseFloor
}

// pseudoInverse is (DᵀWD)⁻¹DᵀW (columns × holds) with the holds' numbers of
// frames as weights.
func (s *Separation) pseudoInverse(c int) []float64 {
	n, m := s.columns(), len(s.Effective)
	row := make([]float64, n)
	eq := newNormal(n)
	for h := range m {
		s.row(h, c, row)
		eq.add(row, 0, s.Effective[h])
	}
	factorise(eq.a, n)
	out := make([]float64, n*m)
	for h := range m {
		s.row(h, c, row)
		for k := range row {
			row[k] *= s.Effective[h]
		}
		substitute(eq.a, row, n)
		for k := range n {
			out[k*m+h] = row[k]
		}
	}
	return out
}

// Covariance writes the covariance of the pictures' values (lamps, then
// ambient; columns×columns) in channel c, for the mean of pixels patch of area
// pixels whose pictures' values are b.
func (s *Separation) Covariance(c int, b []float64, pixels float64, dst []float64) {
	newSpreading(s).covariance(c, b, pixels, dst)
}

// blindness remembers, for each set of clipped holds, which columns the rest
// can't tell.
type blindness struct {
	design *Design
	mutex  sync.Mutex
	seen   map[uint64]uint16
}

func newBlindness(d *Design) *blindness {
	return &blindness{design: d, seen: map[uint64]uint16{}}
}

func (k *blindness) of(lost uint64) uint16 {
	k.mutex.Lock()
	defer k.mutex.Unlock()
	if m, ok := k.seen[lost]; ok {
		return m
	}
	n := k.design.Columns()
	var rows [][]float64
	for h := range k.design.Level {
		if lost>>h&1 == 0 {
			r := make([]float64, n)
			k.design.row(h, r)
			rows = append(rows, r)
		}
	}
	_, null := eliminate(rows, n)
	var m uint16
	for _, g := range joinSupports(null, n) {
		for _, c := range g {
			m |= 1 << c
		}
	}
	k.seen[lost] = m
	return m
}

// BlindPixels is the share of pixels at which column k is unknown.
func (s *Separation) BlindPixels(k int) float64 {
	n := 0
	for _, m := range s.Blind {
		n += bits.OnesCount16(m >> k & 1)
	}
	return float64(n) / float64(s.W*s.H)
}

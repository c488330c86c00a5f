package lamps

import (
	"math"
	"math/rand/v2"
	"slices"
)

// search looks for the β from which the biweight converges to the right
// answer, since a moved figure with its shadows may spoil more than half of the
// bins, and then no start by sums or medians over all of them is safe. What is
// clean hangs together in the picture, so trial fits are made on a few round
// patches, with a weak pull to the reference; each is judged by how many bins
// it explains (after Fischler and Bolles 1981 and Torr and Zisserman 2000, with
// the scale known from the noise). The best are improved by a few weighted
// steps and the one that explains most is returned.
//
// The trials are drawn from a fixed seed, so the same picture gives the same
// answer. The result has one row a channel, as take wants it; loss is the mean
// share by which bins stay unexplained, 0..1.
//
// Source: M. A. Fischler, R. C. Bolles 1981, Communications of the ACM 24(6); P. H. S. Torr, A. Zisserman 2000, Computer Vision and Image Understanding 78(1)
func (f *robustFit) search(reference [3][]float64) (rows [3][]float64, loss float64) {
	if f.cross {
		for c := range 3 {
			reference[c] = append(slices.Clone(reference[c]), 0, 0)
		}
	}
	for _, q := range searchModels {
		rows, loss = f.searchAt(newTrial(f, reference, q))
		if loss < hopeless {
			break
		}
	}
	return rows, loss
}

// searchModels are the sizes of the model term tried one after the other: the
// first at which some trial explains a fair share of the picture is taken.
var searchModels = []float64{1, 25, 600}

// hopeless is the loss from which a search has found nothing.
const hopeless = 0.85

type candidate struct {
	beta [3][]float64
	loss float64
}

func (f *robustFit) searchAt(t *trial) (rows [3][]float64, loss float64) {
	best := []candidate{{t.reference, t.loss(t.reference)}}
	rng := rand.New(rand.NewPCG(20070619, uint64(f.n)))
	var at [trials][perTrial]int
	for k := range at {
		for i := range at[k] {
			at[k][i] = rng.IntN(f.n)
		}
	}
	var tried [trials]*candidate
	inRows(trials, func(from, to int) {
		t := t.own()
		for k := from; k < to; k++ {
			var beta [3][]float64
			if t.patches(at[k], &beta) {
				tried[k] = &candidate{beta, t.loss(beta)}
			}
		}
	})
	for _, c := range tried {
		if c != nil {
			best = append(best, *c)
		}
	}
	slices.SortStableFunc(best, func(a, b candidate) int { return compare(a.loss, b.loss) })
	keep := best[:min(improved, len(best))]
	inRows(len(keep), func(from, to int) {
		t := t.own()
		for i := from; i < to; i++ {
			for range 4 {
				next, ok := t.improve(keep[i].beta)
				if !ok {
					break
				}
				keep[i].beta = next
			}
			keep[i].loss = t.loss(keep[i].beta)
		}
	})
	b := slices.MinFunc(keep, func(a, b candidate) int { return compare(a.loss, b.loss) })
	return b.beta, b.loss
}

const (
	trials     = 60
	improved   = 5
	perTrial   = 3   // patches
	patchBins  = 7   // radius of a patch
	pull       = 0.7 // deviation of a weight about the reference's, as a share of it
	sampleStep = 3   // one bin in so many judges a trial
)

// trial holds what all trials share: variances fixed at today's light.
type trial struct {
	f         *robustFit
	reference [3][]float64
	variance  []float64
	sample    []int
	scratch   []float64
	at        []int // bin of each place in the grid, −1 where none
}

func newTrial(f *robustFit, reference [3][]float64, q float64) *trial {
	t := &trial{f: f, reference: reference, variance: make([]float64, 3*f.n), scratch: make([]float64, f.unknowns()), at: make([]int, f.gridW*f.gridH)}
	inRows(f.n, func(from, to int) {
		for i := from; i < to; i++ {
			for c := range 3 {
				j := 3*i + c
				t.variance[j] = f.frame(c, max(f.y[j], 0))/f.area[i] + f.misfit[i]*f.spread(reference[c][:f.k], i, c) + q*f.model[j] + noiseFloor
			}
		}
	})
	for i := range t.at {
		t.at[i] = -1
	}
	for i, p := range f.place {
		t.at[p] = i
		if (p%f.gridW+2*(p/f.gridW))%sampleStep == 0 {
			t.sample = append(t.sample, i)
		}
	}
	return t
}

// own is the same trial with scratch of its own.
func (t *trial) own() *trial {
	o := *t
	o.scratch = make([]float64, len(t.scratch))
	return &o
}

// squares is the squared length of bin i's normalised residual.
func (t *trial) squares(beta *[3][]float64, i int) float64 {
	s := 0.0
	for c := range 3 {
		t.f.row(i, c, t.scratch)
		r := t.f.y[3*i+c]
		for j, x := range t.scratch {
			r -= beta[c][j] * x
		}
		s += r * r / t.variance[3*i+c]
	}
	return s
}

// loss is the mean over the sample of the squared length, cut where the
// biweight ends.
func (t *trial) loss(beta [3][]float64) float64 {
	s := 0.0
	for _, i := range t.sample {
		s += min(t.squares(&beta, i)/(tukeyCut*tukeyCut), 1)
	}
	return s / float64(len(t.sample))
}

// patches fits the patches about a few bins.
func (t *trial) patches(bins [perTrial]int, beta *[3][]float64) bool {
	f := t.f
	eq := t.pulled()
	for _, i := range bins {
		cx, cy := f.place[i]%f.gridW, f.place[i]/f.gridW
		for y := max(0, cy-patchBins); y <= min(f.gridH-1, cy+patchBins); y++ {
			for x := max(0, cx-patchBins); x <= min(f.gridW-1, cx+patchBins); x++ {
				if (x-cx)*(x-cx)+(y-cy)*(y-cy) > patchBins*patchBins {
					continue
				}
				if j := t.at[y*f.gridW+x]; j >= 0 {
					t.add(eq, j, 1)
				}
			}
		}
	}
	return t.take(eq, beta)
}

// improve makes one biweight step on the sample.
func (t *trial) improve(beta [3][]float64) (next [3][]float64, ok bool) {
	eq := t.pulled()
	for _, i := range t.sample {
		if w := tukeyWeight(math.Sqrt(t.squares(&beta, i))); w > 0 {
			t.add(eq, i, w)
		}
	}
	return next, t.take(eq, &next)
}

// pulled begins the three channels' equations with the pull to the reference.
func (t *trial) pulled() [3]*normal {
	var eq [3]*normal
	for c := range eq {
		n := t.f.unknowns()
		eq[c] = newNormal(n)
		for j, r := range t.reference[c] {
			s := pull * max(r, 0.02)
			if j >= t.f.k {
				s = crossPrior
			}
			eq[c].a[j*n+j] = 1 / (s * s)
			eq[c].b[j] = r / (s * s)
		}
	}
	return eq
}

func (t *trial) add(eq [3]*normal, i int, w float64) {
	for c := range eq {
		t.f.row(i, c, t.scratch)
		eq[c].add(t.scratch, t.f.y[3*i+c], w/t.variance[3*i+c])
	}
}

func (t *trial) take(eq [3]*normal, beta *[3][]float64) bool {
	for c := range eq {
		b, ok := eq[c].solve()
		if !ok {
			return false
		}
		beta[c] = b
	}
	return true
}

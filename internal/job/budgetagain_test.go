package job

import (
	"encoding/gob"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"testing"

	"lampwise/internal/grade"
	"lampwise/internal/picture"
)

var (
	againSet  = flag.String("again", "small", "gradients that are encoded again: small, test or train")
	againFile = flag.String("again-file", "", "keep what was counted there, or read it if it stands there")
	// Fresh gradients are other ones than anybody has looked at.
	againSeed  = flag.Uint64("again-seed", 0, "draw other gradients and other noise than the stated set's")
	againEvery = flag.Int("again-every", 1, "one way in so many of the set's")
)

// Gradients that a web site encodes again. They are wider and taller than those
// of the set above and of all slopes, and each is counted several times: with
// fresh noise, begun a little elsewhere and among other neighbours, since of a
// few contours in a picture one more or less is chance.
const (
	againWide, againTall = 1280, 64
	againStrips          = 30
)

var againQPs = []float64{22, 26, 30, 34}

// againCase is a way from gradient to finished file with its gradients.
type againCase struct {
	bandingCase
	strips []countedStrip
}

// againCases are those of a set. The test set has the grades and depths of
// bandingCases, the training set grades of its own, drawn by chance.
func againCases(set string) []againCase {
	r := rand.New(rand.NewPCG(2026, uint64(len(set))))
	var cases []bandingCase
	switch set {
	case "train":
		ways := []depths{{10, 8, "triangular"}, {10, 10, "triangular"}, {8, 8, "none"}, {8, 8, "triangular"}, {10, 8, "none"}, {8, 10, "triangular"}}
		for n := range 24 {
			g := grade.Starting("log-420")
			g.SetOff(grade.StageVignette, true)
			k := 0.8 + 0.6*r.Float64()
			g.Curve.Master = [][2]float64{{-4, -4 * k}, {-2, -2 * (0.8 + 0.6*r.Float64())}, {0, 0}, {2, 2 * (0.8 + 0.5*r.Float64())}, {4, 4.6}}
			g.Exposure.Stops, g.Convert.Slope = 2*r.Float64()-1, 0.8+0.7*r.Float64()
			g.Look.Strength = r.Float64()
			w := ways[n%len(ways)]
			g.Encode.Bits, g.Encode.Dither = w.out, w.dither
			cases = append(cases, bandingCase{fmt.Sprintf("drawn %d", n), g, w.bits, w.out, w.dither})
		}
	case "test":
		cases = bandingCases(true)
	default:
		cases = bandingCases(false)[:2]
	}
	var out []againCase
	if *againSeed != 0 {
		r = rand.New(rand.NewPCG(2026, 1000+*againSeed))
	}
	for i, c := range cases {
		if i%max(1, *againEvery) != 0 {
			continue
		}
		a := againCase{bandingCase: c}
		n := againStrips
		if set != "train" {
			n /= 2
		}
		for range n {
			from := 190 + 500*r.Float64()
			a.strips = append(a.strips, countedStrip{from, from + 10*math.Pow(12, r.Float64()), 0.4 * math.Pow(100, r.Float64())})
		}
		out = append(out, a)
	}
	return out
}

// againCount is what was counted of one gradient: the part spoilt once delivered
// and encoded again at each of againQPs, the mean over the realisations.
type againCount struct {
	Case, Strip int
	Delivered   float64
	Again       []float64
	// Halves are Again over every other realisation: what two halves of the counts
	// agree on is what chance leaves a model to reach.
	Halves [2][]float64
}

func countAgain(t *testing.T, cases []againCase, times int, qps []float64) []againCount {
	t.Helper()
	var out []againCount
	for ci, c := range cases {
		p := buildBandingPath(t, c.bandingCase)
		counts := make([]againCount, len(c.strips))
		for i := range counts {
			counts[i] = againCount{ci, i, 0, make([]float64, len(qps)), [2][]float64{make([]float64, len(qps)), make([]float64, len(qps))}}
		}
		for k := range times {
			const codes = 4.5 // over which the realisations are spread
			r := rand.New(rand.NewPCG(uint64(ci)+1000**againSeed, uint64(k)))
			shifted := slices.Clone(c.strips)
			for i := range shifted {
				d := codes * float64(k) / float64(times)
				shifted[i].from, shifted[i].to = shifted[i].from+d, shifted[i].to+d
			}
			order := r.Perm(len(shifted))
			first := renderGradients(t, c.bandingCase, p, shifted, order, r)
			delivered := encodeAgain(t, first, 0)
			eight := delivered
			if c.out != 8 {
				eight = nil
				for _, f := range delivered {
					eight = append(eight, toEight(f))
				}
			}
			count := func(frames []*picture.Frame, into func(i int, spoilt float64)) {
				for at, i := range order {
					_, spoilt := falseContours(frames, at*againTall, againTall, idealRamp(p, shifted[i], againWide), BudgetPeak)
					into(i, spoilt/float64(times))
				}
			}
			count(delivered, func(i int, v float64) { counts[i].Delivered += v })
			for q, qp := range qps {
				count(encodeAgain(t, eight, qp), func(i int, v float64) {
					counts[i].Again[q] += v
					counts[i].Halves[k%2][q] += v
				})
			}
		}
		out = append(out, counts...)
	}
	return out
}

// renderGradients records gradients below each other in an order and renders them.
func renderGradients(t *testing.T, c bandingCase, p *grade.Path, all []countedStrip, order []int, r *rand.Rand) []*picture.Frame {
	t.Helper()
	in := bandingFormat(c)
	in.Width, in.Height = againWide, againTall*len(all)
	program, err := p.Program()
	if err != nil {
		t.Fatal(err)
	}
	exact := remembered(p)
	format := program.OutputFormat(in)
	unit := math.Exp2(float64(c.bits - 10))
	var out []*picture.Frame
	for n := range 3 {
		f, o := picture.NewFrame(in), picture.NewFrame(format)
		f.Index, o.Index = n, n
		for i := range f.Cb {
			f.Cb[i], f.Cr[i] = 1<<(c.bits-1), 1<<(c.bits-1)
		}
		for at, i := range order {
			s := all[i]
			for y := at * againTall; y < (at+1)*againTall; y++ {
				for x := range againWide {
					code := s.from + (s.to-s.from)*(float64(x)+0.5)/againWide
					f.Y[y*againWide+x] = uint16(math.Round((code + s.sigma*r.NormFloat64()) * unit))
				}
			}
		}
		if err := program.RunWith(exact, f, o); err != nil {
			t.Fatal(err)
		}
		out = append(out, o)
	}
	return out
}

// countedAgain counts a set, or reads what was counted of it.
func countedAgain(t *testing.T, cases []againCase, times int, qps []float64) []againCount {
	t.Helper()
	if *againFile != "" {
		if f, err := os.Open(*againFile); err == nil {
			defer f.Close()
			var out []againCount
			if err := gob.NewDecoder(f).Decode(&out); err != nil {
				t.Fatal(err)
			}
			return out
		}
	}
	out := countAgain(t, cases, times, qps)
	if *againFile != "" {
		f, err := os.Create(*againFile)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := gob.NewEncoder(f).Encode(out); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// TestSecondEncodeRanksWhatIsSeen encodes delivered gradients once more, at
// several qualities, decodes them and counts false contours: the model's risk must
// put them all in the same order.
//
// The test set, 450 gradients at four qualities, each counted six times, takes
// about ten minutes:
//
//	go test ./internal/job -run SecondEncode -v -timeout 90m -again test
//
// -again-seed draws other gradients and other noise, in the same grades.
// The training set has no grade of it: -again train.
func TestSecondEncodeRanksWhatIsSeen(t *testing.T) {
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	times, qps, wanted := 2, []float64{againQPs[0], againQPs[2]}, 0.85 // counted twice only, chance has its part
	switch *againSet {
	case "train":
		times, qps, wanted = 4, againQPs, 0.9
	case "test":
		times, qps, wanted = 6, againQPs, 0.9
	}
	cases := againCases(*againSet)
	var delivered, deliveredCount, all, allCount []float64
	predicted, counted := make([][]float64, len(qps)), make([][]float64, len(qps))
	halves := [2][][]float64{make([][]float64, len(qps)), make([][]float64, len(qps))}
	paths := map[int]*grade.Path{}
	for _, x := range countedAgain(t, cases, times, qps) {
		c := cases[x.Case]
		if paths[x.Case] == nil {
			paths[x.Case] = buildBandingPath(t, c.bandingCase)
		}
		s, p := c.strips[x.Strip], paths[x.Case]
		for q, qp := range qps {
			r := predictRamp(p, s, againWide, c.bits, c.out, c.dither != "none", qp)
			predicted[q], counted[q] = append(predicted[q], r.Web), append(counted[q], x.Again[q])
			for h := range halves {
				if x.Halves[h] != nil {
					halves[h][q] = append(halves[h][q], x.Halves[h][q])
				}
			}
			all, allCount = append(all, r.Web), append(allCount, x.Again[q])
			if q == 0 {
				delivered, deliveredCount = append(delivered, r.Delivered), append(deliveredCount, x.Delivered)
			}
		}
	}
	t.Logf("delivered: rank correlation %.3f over %d gradients", spearman(delivered, deliveredCount), len(delivered))
	for q, qp := range qps {
		t.Logf("encoded again at quality %.0f: rank correlation %.3f; chance leaves %.3f to reach", qp, spearman(predicted[q], counted[q]), ceiling(halves[0][q], halves[1][q]))
	}
	rho := spearman(all, allCount)
	t.Logf("encoded again, all qualities: rank correlation %.3f over %d", rho, len(all))
	if rho < wanted {
		t.Errorf("rank correlation %.3f, wanted %.2f", rho, wanted)
	}
}

// ceiling is the rank correlation with these counts that a model without any error
// would have: the root of the counts' reliability, which is had from two halves
// (Spearman, British Journal of Psychology 3, 1910; Brown, ibid.).
func ceiling(a, b []float64) float64 {
	if len(a) == 0 {
		return math.NaN()
	}
	r := spearman(a, b)
	return math.Sqrt(2 * r / (1 + r))
}

func TestSecondEncodeModelsEnds(t *testing.T) {
	for _, quality := range []float64{0, 22, 26, 30, 34, 51} {
		last := 2.0
		for _, noise := range []float64{20, 40, 80, 1e6} {
			v := again.spoilt(6, noise, 0.01, quality)
			if !(v >= 0 && v <= 1 && v <= last+1e-12) {
				t.Errorf("quality %g, noise %g: %g after %g", quality, noise, v, last)
			}
			last = v
		}
		for _, j := range []float64{0, 1, 2, 10, 1e9} {
			for _, slope := range []float64{0, 0.001, 0.1, 10} {
				for _, noise := range []float64{0, 0.1, 1, 5} {
					if v := again.spoilt(j, noise, slope, quality); !(v >= 0 && v <= 1) {
						t.Errorf("j %g, noise %g, slope %g, quality %g: %g", j, noise, slope, quality, v)
					}
				}
			}
		}
	}
	if clean, noisy := again.spoilt(6, 0, 0.01, 30), again.spoilt(6, 60, 0.01, 30); clean < 0.5 || noisy > 0.05 {
		t.Errorf("clean %g, noisy %g", clean, noisy)
	}
}

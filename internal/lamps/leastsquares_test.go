package lamps

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// NIST's Statistical Reference Datasets, linear regression: data and certified
// values from memory; that the certified values follow from the data to all
// the digits checked here is what makes them good.
var (
	norris = [][2]float64{ // y, x
		{.1, .2},
		{338.8, 337.4},
		{118.1, 118.2},
		{888, 884.6},
		{9.2, 10.1},
		{228.1, 226.5},
		{668.5, 666.3},
		{998.5, 996.3},
		{449.1, 448.6},
		{778.9, 777},
		{559.2, 558.2},
		{.3, .4},
		{.1, .6},
		{778.1, 775.5},
		{668.8, 666.9},
		{339.3, 338},
		{448.9, 447.5},
		{10.8, 11.6},
		{557.7, 556},
		{228.3, 228.1},
		{998, 995.8},
		{888.8, 887.6},
		{119.6, 120.2},
		{.3, .3},
		{.6, .3},
		{557.6, 556.8},
		{339.3, 339.1},
		{888, 887.2},
		{998.5, 999},
		{778.9, 779},
		{10.2, 11.1},
		{117.6, 118.3},
		{228.9, 229.2},
		{668.4, 669.1},
		{449.2, 448.9},
		{.2, .5},
	}
	norrisBeta, norrisSD = []float64{-0.262323073774029, 1.00211681802045}, []float64{0.232818234301152, 0.429796848199937e-03}

	longley = [][]float64{ // y, then six regressors
		{60323, 83, 234289, 2356, 1590, 107608, 1947},
		{61122, 88.5, 259426, 2325, 1456, 108632, 1948},
		{60171, 88.2, 258054, 3682, 1616, 109773, 1949},
		{61187, 89.5, 284599, 3351, 1650, 110929, 1950},
		{63221, 96.2, 328975, 2099, 3099, 112075, 1951},
		{63639, 98.1, 346999, 1932, 3594, 113270, 1952},
		{64989, 99, 365385, 1870, 3547, 115094, 1953},
		{63761, 100, 363112, 3578, 3350, 116219, 1954},
		{66019, 101.2, 397469, 2904, 3048, 117388, 1955},
		{67857, 104.6, 419180, 2822, 2857, 118734, 1956},
		{68169, 108.4, 442769, 2936, 2798, 120445, 1957},
		{66513, 110.8, 444546, 4681, 2637, 121950, 1958},
		{68655, 112.6, 482704, 3813, 2552, 123366, 1959},
		{69564, 114.2, 502601, 3931, 2514, 125368, 1960},
		{69331, 115.7, 518173, 4806, 2572, 127852, 1961},
		{70551, 116.9, 554894, 4007, 2827, 130081, 1962},
	}
	longleyBeta = []float64{15.0618722713733, -0.358191792925910e-01, -2.02022980381683, -1.03322686717359, -0.511041056535807e-01, 1829.15146461355}
	longleySD   = []float64{84.9149257747669, 0.334910077722432e-01, 0.488399681651699, 0.214274163161675, 0.226073200069370, 455.478499142212}
)

// fitted solves by our normal equations and returns the standard errors, too.
// Columns are centred and scaled first, as pictures' levels are by nature.
func fitted(t *testing.T, rows [][]float64, y []float64) (beta, sd []float64) {
	t.Helper()
	n, k := len(rows), len(rows[0])
	mean, scale := make([]float64, k), make([]float64, k)
	my := 0.0
	for i, r := range rows {
		for j, v := range r {
			mean[j] += v / float64(n)
		}
		my += y[i] / float64(n)
	}
	for _, r := range rows {
		for j, v := range r {
			scale[j] += sq(v-mean[j]) / float64(n)
		}
	}
	eq := newNormal(k)
	z := make([]float64, k)
	for i, r := range rows {
		for j, v := range r {
			z[j] = (v - mean[j]) / math.Sqrt(scale[j])
		}
		eq.add(z, y[i]-my, 1)
	}
	beta, ok := eq.solve()
	if !ok {
		t.Fatal("singular")
	}
	beta = slices.Clone(beta)
	rest := 0.0
	for i, r := range rows {
		e := y[i] - my
		for j, v := range r {
			e -= beta[j] * (v - mean[j]) / math.Sqrt(scale[j])
		}
		rest += e * e
	}
	inv := make([]float64, k*k)
	inverseFrom(eq.a, k, inv, make([]float64, k))
	for j := range k {
		sd = append(sd, math.Sqrt(inv[j*k+j]*rest/float64(n-k-1)/scale[j]))
		beta[j] /= math.Sqrt(scale[j])
	}
	return beta, sd
}

func TestLeastSquaresPublished(t *testing.T) {
	var rows [][]float64
	var y []float64
	for _, p := range norris {
		rows, y = append(rows, []float64{p[1]}), append(y, p[0])
	}
	b, sd := fitted(t, rows, y)
	if math.Abs(b[0]/norrisBeta[1]-1) > 1e-12 || math.Abs(sd[0]/norrisSD[1]-1) > 1e-10 {
		t.Errorf("Norris: slope %.15g ± %.15g, certified %.15g ± %.15g", b[0], sd[0], norrisBeta[1], norrisSD[1])
	}
	rows, y = nil, nil
	for _, r := range longley {
		rows, y = append(rows, r[1:]), append(y, r[0])
	}
	b, sd = fitted(t, rows, y)
	for j := range b {
		if math.Abs(b[j]/longleyBeta[j]-1) > 1e-9 || math.Abs(sd[j]/longleySD[j]-1) > 1e-9 {
			t.Errorf("Longley %d: %.12g ± %.12g, certified %.12g ± %.12g", j+1, b[j], sd[j], longleyBeta[j], longleySD[j])
		}
	}
}

// Weighted fits, their covariance and general inverses agree with gonum's.
func TestLeastSquaresAgainstGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		k := rapid.IntRange(1, 13).Draw(t, "columns")
		n := k + rapid.IntRange(0, 20).Draw(t, "more")
		eq := newNormal(k)
		x, y := mat.NewDense(n, k, nil), mat.NewVecDense(n, nil)
		for i := range n {
			row := make([]float64, k)
			for j := range row {
				row[j] = rng.NormFloat64()
			}
			w, v := math.Exp(rng.NormFloat64()), rng.NormFloat64()
			eq.add(row, v, w)
			for j, r := range row {
				x.Set(i, j, r*math.Sqrt(w))
			}
			y.SetVec(i, v*math.Sqrt(w))
		}
		var qr mat.QR
		qr.Factorize(x)
		if qr.Cond() > 1e5 {
			return // our columns never come that close
		}
		var want mat.VecDense
		if err := qr.SolveVecTo(&want, false, y); err != nil {
			t.Fatal(err)
		}
		got, ok := eq.solve()
		if !ok {
			t.Fatal("singular")
		}
		var gram, inverse mat.Dense
		gram.Mul(x.T(), x)
		if err := inverse.Inverse(&gram); err != nil {
			t.Fatal(err)
		}
		cov := make([]float64, k*k)
		inverseFrom(eq.a, k, cov, make([]float64, k))
		general := make([]float64, k*k)
		for i := range k {
			for j := range k {
				general[i*k+j] = gram.At(i, j)
			}
		}
		if !invertGeneral(general, k) {
			t.Fatal("singular")
		}
		scale := mat.Norm(&inverse, 2)
		for i := range k {
			if math.Abs(got[i]-want.AtVec(i)) > 1e-6*(1+mat.Norm(&want, 2)) {
				t.Fatalf("unknown %d: %g, gonum %g", i, got[i], want.AtVec(i))
			}
			for j := range k {
				if math.Abs(cov[i*k+j]-inverse.At(i, j)) > 1e-6*scale || math.Abs(general[i*k+j]-inverse.At(i, j)) > 1e-6*scale {
					t.Fatalf("covariance %d,%d: %g and %g, gonum %g", i, j, cov[i*k+j], general[i*k+j], inverse.At(i, j))
				}
			}
		}
	})
}

// Selection and quantiles against sorting.
func TestQuantile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-5, 5), 1, 200).Draw(t, "x")
		k := rapid.IntRange(0, len(x)-1).Draw(t, "k")
		sorted := slices.Clone(x)
		slices.Sort(sorted)
		if got := selected(slices.Clone(x), k); got != sorted[k] {
			t.Fatalf("%d-th of %v: %g, want %g", k, x, got, sorted[k])
		}
		q := rapid.Float64Range(0, 1).Draw(t, "q")
		at := q * float64(len(x)-1)
		i := int(at)
		want := sorted[i]
		if i+1 < len(x) {
			want += (at - float64(i)) * (sorted[i+1] - sorted[i])
		}
		if got := quantile(slices.Clone(x), q); math.Abs(got-want) > 1e-12 {
			t.Fatalf("quantile %g of %v: %g, want %g", q, x, got, want)
		}
	})
	if !math.IsNaN(median(nil)) {
		t.Error("the median of nothing is a number")
	}
	if m := weightedMedian([]weighted{{1, 1}, {2, 1}, {10, 5}}); m < 5 || m > 10 {
		t.Errorf("weighted median %g", m)
	}
}

// Noise of known size is measured from pairs of frames, in one of which the
// figure and its shadows move, and noise shared between pixels is noticed.
func TestMeasureNoise(t *testing.T) {
	g, poses, cam, rng := smallGarage(17, 2)
	_ = g
	var pairs [][2]*Light
	for k := range 9 {
		a := cam.shoot(rng, mixed(poses[k%2], flat([]float64{1, 1, 1, 1, .2})))
		b := cam.shoot(rng, mixed(poses[(k+k/8)%2], flat([]float64{1, 1, 1, 1, .2})))
		pairs = append(pairs, [2]*Light{a, b})
	}
	n, ok := MeasureNoise(pairs)
	if !ok {
		t.Fatal("too few")
	}
	truth := cam.noise()
	for c := range 3 {
		for _, x := range []float64{.01, .03, .1} {
			if r := n.Variance(c, x) / truth.Variance(c, x); r < .8 || r > 1.4 {
				t.Errorf("channel %d at %g: %.2f of its variance", c, x, r)
			}
		}
	}
	if n.Together > 1.25 {
		t.Errorf("independent pixels share noise over %.2f", n.Together)
	}
	for _, p := range pairs {
		for k := range p {
			p[k].Image = softened(p[k].Image)
		}
	}
	n, _ = MeasureNoise(pairs)
	// The binomial blur leaves (6/16)² of a pixel's variance, and of a mean of 6×6
	// pixels (0.0625·2 + 0.5625·2 + 4)/6 = 0.875 each way: 0.766/0.141 = 5.4.
	if n.Together < 4.4 || n.Together > 6.5 {
		t.Errorf("blurred noise is shared over %.2f pixels, want about 5.4", n.Together)
	}
}

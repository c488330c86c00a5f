package lamps

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"

	"lampwise/internal/fault"
)

// wordAmbient is how the light that no switch turns off is named in sentences.
const wordAmbient = "the ambient light"

// Design says which lamp was at which level in each hold. Its matrix has one
// column a lamp and a last column of ones for the ambient light.
type Design struct {
	Lamps []string
	Level [][]float64 // hold × lamp, in light; 1 = full
	// Filament, when not nil, has an entry a lamp (nil where none): its colour
	// follows its level, so a dimmed hold has a row for each channel.
	Filament []*Filament
}

// Design turns the order's settings into levels through each lamp's dimmer
// curve; a lamp without one is taken as linear.
func (o *Order) Design(dimmers map[string]*Dimmer) *Design {
	d := &Design{Lamps: o.Lamps, Level: make([][]float64, len(o.Holds))}
	for s, h := range o.Holds {
		d.Level[s] = make([]float64, len(o.Lamps))
		for i, v := range h.Setting {
			d.Level[s][i] = dimmers[o.Lamps[i]].Level(v)
		}
	}
	return d
}

// Columns is the number of unknown pictures: the lamps and the ambient light.
func (d *Design) Columns() int { return len(d.Lamps) + 1 }

// row writes hold s into dst, the ambient's 1 last.
func (d *Design) row(s int, dst []float64) {
	copy(dst, d.Level[s])
	dst[len(d.Lamps)] = 1
}

// channelRow writes hold s as channel c sees it.
func (d *Design) channelRow(s, c int, dst []float64) {
	d.row(s, dst)
	for i, f := range d.Filament {
		if f != nil && dst[i] > 0 && dst[i] != 1 {
			dst[i] *= f.Colour(dst[i])[c]
		}
	}
}

// Matrix returns the holds × (lamps + 1) matrix.
func (d *Design) Matrix() *mat.Dense {
	n := d.Columns()
	m := mat.NewDense(len(d.Level), n, nil)
	for s := range d.Level {
		d.row(s, m.RawRowView(s))
	}
	return m
}

// column names a column for a sentence.
func (d *Design) column(i int) string {
	if i == len(d.Lamps) {
		return wordAmbient
	}
	return d.Lamps[i]
}

// rankTolerance is the pivot below which a column counts as a sum of others.
// Levels are 0..1 and known to a few per cent at best (a dimmer's printed
// reading), so a smaller pivot carries no usable light.
const rankTolerance = 0.02

// Ranked is the outcome of the rank test.
type Ranked struct {
	Rank, Columns int
	// Together lists groups of lamps (or wordAmbient) that no hold tells apart.
	Together [][]string
	// Add lists holds, as an order writes them, that would tell all apart.
	Add []string
}

// Full says whether every lamp and the ambient light can be told apart.
func (r Ranked) Full() bool { return r.Rank == r.Columns }

// Err is nil when the rank is full, else the fault that names the lamps and
// the holds to add.
func (r Ranked) Err() error {
	if r.Full() {
		return nil
	}
	groups := make([]string, len(r.Together))
	for i, g := range r.Together {
		groups[i] = sentenceList(g)
	}
	return fault.New(fault.Unsure, "lamps-together",
		"film the switch clip again with "+sentenceList(quoted(r.Add))+" added to the order",
		"these can't be told apart by this order: %s", strings.Join(groups, "; and "))
}

// Rank tests whether the holds tell every lamp and the ambient light apart.
func (d *Design) Rank() Ranked {
	rows := make([][]float64, len(d.Level))
	for s := range rows {
		rows[s] = make([]float64, d.Columns())
		d.row(s, rows[s])
	}
	pivots, null := eliminate(rows, d.Columns())
	r := Ranked{Rank: len(pivots), Columns: d.Columns()}
	for _, g := range joinSupports(null, d.Columns()) {
		names := make([]string, len(g))
		for i, c := range g {
			names[i] = d.column(c)
		}
		r.Together = append(r.Together, names)
	}
	r.Add = d.missing(rows, r.Rank)
	return r
}

// missing finds, greedily, the fewest easily switched holds that make the rank
// full: one lamp off or on first, since they change what was filmed least.
func (d *Design) missing(rows [][]float64, rank int) []string {
	var candidates [][]float64
	n := len(d.Lamps)
	single := func(base, other float64) {
		for i := range n {
			s := make([]float64, n)
			for j := range s {
				s[j] = base
			}
			s[i] = other
			candidates = append(candidates, s)
		}
	}
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	candidates = append(candidates, make([]float64, n))
	single(1, 0)
	single(0, 1)
	candidates = append(candidates, ones)
	var add []string
	for rank < n+1 {
		grown := false
		for _, c := range candidates {
			with := append(rows[:len(rows):len(rows)], append(append([]float64{}, c...), 1))
			if pivots, _ := eliminate(with, n+1); len(pivots) > rank {
				rows, rank, grown = with, len(pivots), true
				add = append(add, settingText(d.Lamps, c))
				break
			}
		}
		if !grown { // can't happen: dark and each lamp alone span everything
			return add
		}
	}
	return add
}

// eliminate returns the pivot columns of the rows' reduced echelon form and a
// basis of its null space (each of n numbers). Rows are not changed.
func eliminate(rows [][]float64, n int) (pivots []int, null [][]float64) {
	m := make([][]float64, len(rows))
	for i := range rows {
		m[i] = append([]float64{}, rows[i]...)
	}
	r := 0
	for c := 0; c < n && r < len(m); c++ {
		best := r
		for i := r + 1; i < len(m); i++ {
			if math.Abs(m[i][c]) > math.Abs(m[best][c]) {
				best = i
			}
		}
		if math.Abs(m[best][c]) < rankTolerance {
			continue
		}
		m[r], m[best] = m[best], m[r]
		scale := 1 / m[r][c]
		for j := c; j < n; j++ {
			m[r][j] *= scale
		}
		for i := range m {
			if i == r {
				continue
			}
			f := m[i][c]
			for j := c; j < n; j++ {
				m[i][j] -= f * m[r][j]
			}
		}
		pivots = append(pivots, c)
		r++
	}
	isPivot := make([]bool, n)
	for _, c := range pivots {
		isPivot[c] = true
	}
	for c := range n {
		if isPivot[c] {
			continue
		}
		v := make([]float64, n)
		v[c] = 1
		for i, p := range pivots {
			v[p] = -m[i][c]
		}
		null = append(null, v)
	}
	return pivots, null
}

// joinSupports groups the columns that share a null vector.
func joinSupports(null [][]float64, n int) [][]int {
	group := make([]int, n)
	for i := range group {
		group[i] = i
	}
	touched := make([]bool, n)
	for _, v := range null {
		first := -1
		for c, x := range v {
			if math.Abs(x) < rankTolerance {
				continue
			}
			touched[c] = true
			if first < 0 {
				first = group[c]
				continue
			}
			old := group[c]
			for k := range group {
				if group[k] == old {
					group[k] = first
				}
			}
		}
	}
	var out [][]int
	at := map[int]int{}
	for c := range n {
		if !touched[c] {
			continue
		}
		i, ok := at[group[c]]
		if !ok {
			i = len(out)
			at[group[c]] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], c)
	}
	return out
}

// sentenceList joins words as a sentence does.
func sentenceList(words []string) string {
	switch len(words) {
	case 0:
		return "nothing"
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func quoted(words []string) []string {
	q := make([]string, len(words))
	for i, w := range words {
		q[i] = fmt.Sprintf("%q", w)
	}
	return q
}

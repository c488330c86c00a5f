package gauge

import (
	"cmp"
	"slices"
)

// A coarse grid says where in the picture something is.
const (
	cellsAcross = 16
	cellsDown   = 9
	cells       = cellsAcross * cellsDown
)

// cellsOf gives the cell of each column of samples and the first cell of each row.
func cellsOf(w, h int) (across, down []int) {
	across, down = make([]int, w), make([]int, h)
	for x := range across {
		across[x] = x * cellsAcross / w
	}
	for y := range down {
		down[y] = y * cellsDown / h * cellsAcross
	}
	return across, down
}

// Place is a part of the picture and how much of the whole lies in it.
type Place struct {
	Box   Box     `json:"box"`
	Share float64 `json:"share"` // of all that was found anywhere, 0..1
}

const mostPlaces = 8

// places joins neighbouring cells that hold something into boxes, the fullest
// first. Cells that hold less than a hundredth of what the fullest does are
// left out.
func places(count []float64) []Place {
	most, total := 0.0, 0.0
	for _, n := range count {
		most, total = max(most, n), total+n
	}
	if total == 0 {
		return nil
	}
	seen := make([]bool, len(count))
	var out []Place
	for i := range count {
		if seen[i] || count[i] < most/100 {
			continue
		}
		x0, y0, x1, y1, sum := cellsAcross, cellsDown, 0, 0, 0.0
		stack := []int{i}
		seen[i] = true
		for len(stack) > 0 {
			c := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			x, y := c%cellsAcross, c/cellsAcross
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
			sum += count[c]
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					nx, ny := x+dx, y+dy
					if nx < 0 || ny < 0 || nx >= cellsAcross || ny >= cellsDown {
						continue
					}
					if n := ny*cellsAcross + nx; !seen[n] && count[n] >= most/100 {
						seen[n] = true
						stack = append(stack, n)
					}
				}
			}
		}
		out = append(out, Place{
			Box:   Box{float64(x0) / cellsAcross, float64(y0) / cellsDown, float64(x1-x0) / cellsAcross, float64(y1-y0) / cellsDown},
			Share: sum / total,
		})
	}
	slices.SortFunc(out, func(a, b Place) int { return cmp.Compare(b.Share, a.Share) })
	return out[:min(len(out), mostPlaces)]
}

func boxes(p []Place) []Box {
	var out []Box
	for _, q := range p {
		out = append(out, q.Box)
	}
	return out
}

package lamps

// Shares are the lamps' shares of a region's light in a mix: ReadLamp's, of all
// at once. All are 0 where there is no light.
func (s *Set) Shares(mix []float64, r Region) []float64 {
	means, _ := s.regionMeans(r)
	w := s.Weights(mix)
	luma := s.luma()
	out := make([]float64, len(s.Lamps))
	all := luma.of(combined(means, w))
	if !(all > 0) {
		return out
	}
	for i := range out {
		var rgb [3]float64
		for c := range rgb {
			rgb[c] = w[i][c] * means[i][c]
		}
		out[i] = luma.of(rgb) / all
	}
	return out
}

package fault

// Nearest returns the candidate closest to word by edit distance, and whether
// it is close enough (at most a third of the word's length, at least one edit)
// to be offered as "did you mean".
func Nearest(word string, candidates []string) (string, bool) {
	best, bestDistance := "", len(word)+1
	for _, c := range candidates {
		if d := editDistance(word, c); d < bestDistance {
			best, bestDistance = c, d
		}
	}
	limit := max(1, (len(word)+2)/3)
	return best, best != "" && bestDistance <= limit
}

// editDistance is Levenshtein's distance in bytes.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			diagonal, row[j] = row[j], min(row[j]+1, row[j-1]+1, diagonal+cost)
		}
	}
	return row[len(b)]
}

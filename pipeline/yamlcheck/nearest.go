package yamlcheck

import "strings"

// Nearest returns the candidate that was probably meant by a misspelt word: the
// one at the smallest edit distance, or the empty string if all differ by more
// than a third of the word.
func Nearest(word string, candidates []string) string {
	if len(word) > 64 {
		return ""
	}
	best, bestCost := "", max(1, (len(word)+1)/3)+1
	for _, c := range candidates {
		if cost := editDistance(strings.ToLower(word), c); cost < bestCost {
			best, bestCost = c, cost
		}
	}
	return best
}

// editDistance counts insertions, deletions, substitutions and exchanges of two
// neighbours (optimal string alignment distance).
func editDistance(a, b string) int {
	d := make([][]int, len(a)+1)
	for i := range d {
		d[i] = make([]int, len(b)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			substitute := d[i-1][j-1]
			if a[i-1] != b[j-1] {
				substitute++
			}
			d[i][j] = min(substitute, d[i-1][j]+1, d[i][j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(a)][len(b)]
}

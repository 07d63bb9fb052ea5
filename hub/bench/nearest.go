package bench

import (
	"slices"
	"strings"
)

// nearest gives the known word that an unknown one was most likely meant to be,
// or "" when none is near: at most one slip of the keys in three letters.
func nearest(word string, known []string) string {
	if len(word) > 60 {
		return ""
	}
	plain := func(s string) string {
		return strings.NewReplacer("_", "", "-", "", " ", "").Replace(strings.ToLower(s))
	}
	best, least := "", len(word)
	for _, k := range slices.Sorted(slices.Values(known)) {
		d := slips(plain(word), plain(k))
		if d < least && d <= max(1, len(k)/3) {
			best, least = k, d
		}
	}
	return best
}

// slips counts the letters to add, drop, change or swap with their neighbour to
// turn a into b (the optimal string alignment distance).
func slips(a, b string) int {
	x, y := []rune(a), []rune(b)
	before, last := make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(x); i++ {
		row := make([]int, len(y)+1)
		row[0] = i
		for j := 1; j <= len(y); j++ {
			change := 1
			if x[i-1] == y[j-1] {
				change = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+change)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last = last, row
	}
	return last[len(y)]
}

// listed joins words as "a, b or c".
func listed(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " or " + words[n-1]
	}
}

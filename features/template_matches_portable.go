//go:build !amd64 || purego

package features

func (m *templateMatcher) templateMatches(x []float64, r float64) (two, three int) {
	return templateMatchesPortable(x, r)
}

package dataset

import (
	"path"
	"strings"
)

// isMatlab reports whether a file is read as a MATLAB file and not as text.
func isMatlab(file string) bool { return strings.EqualFold(path.Ext(file), ".mat") }

// IsRecord reports whether the audio of a recording is a WFDB record, by its
// header, and not a WAV file.
func IsRecord(file string) bool { return strings.EqualFold(path.Ext(file), ".hea") }

// lineWord is what messages call a line of a file.
func lineWord(file string) string {
	if isMatlab(file) {
		return "row"
	}
	return "line"
}

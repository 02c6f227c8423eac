package choose

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"phonocycle/pipeline/rundir"
)

// WriteList writes the recordings as a list that --recordings takes, with the reasons and
// the given lines as comments.
func (c *Choice) WriteList(w io.Writer, lines string) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# %d of the %d recordings of %s, chosen by %s\n", len(c.Recordings), c.Of, c.Run, rundir.Tool)
	if len(c.Asked) > 0 {
		fmt.Fprintf(&b, "# asked for: %s\n", strings.Join(c.Asked, "; "))
	}
	if c.Score != "" {
		fmt.Fprintf(&b, "# %s\n", c.Score)
	}
	for _, warning := range c.Warnings {
		fmt.Fprintf(&b, "# warning: %s\n", warning)
	}
	for line := range strings.SplitSeq(lines, "\n") {
		fmt.Fprintf(&b, "# %s\n", line)
	}
	for _, r := range c.Recordings {
		fmt.Fprintf(&b, "\n# %s\n%s\n", r.words(), r.line())
	}
	_, err := w.Write(b.Bytes())
	return err
}

// line is the id as a line of a list. One that would be read as a comment or as one to
// exclude is written with its data set, which is always understood.
func (r *Recording) line() string {
	if strings.HasPrefix(r.ID, "#") || strings.HasPrefix(r.ID, "!") {
		return r.DataSet + "/" + r.ID
	}
	return r.ID
}

package eval

import (
	"bytes"
	"fmt"
	"io"
)

// WriteText writes the counts by doubt and up to most findings of each, or all
// for most = 0.
func (a *Audit) WriteText(w io.Writer, most int) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "References that deserve a second look: %d of %d\n", a.Doubted, a.Recordings)
	for d := range Doubt(doubts) {
		n := 0
		for _, f := range a.Findings {
			if f.Doubt != d {
				continue
			}
			if n == 0 {
				fmt.Fprintf(&b, "\n%v: %s\n", d, number(a.ByDoubt[d.String()], "recording", "recordings"))
			}
			if n++; most == 0 || n <= most {
				more := ""
				if f.Count > 1 {
					more = fmt.Sprintf(", and %d more", f.Count-1)
				}
				fmt.Fprintf(&b, "  %-20s %s%s\n", f.Recording, f.Evidence, more)
			}
		}
		if most > 0 && n > most {
			fmt.Fprintf(&b, "  … and %d more findings\n", n-most)
		}
	}
	fmt.Fprintln(&b)
	wrap(&b, "", "A finding is a reason to look, not a proof of a wrong reference, and says nothing about the health of a person.")
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("audit: %w", err)
	}
	return nil
}

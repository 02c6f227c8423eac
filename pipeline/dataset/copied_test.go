package dataset

import "testing"

// A record that is read says of each recording what it says.
func FuzzParseCopy(f *testing.F) {
	f.Add([]byte(`{"tool": "phonocycle 0.5.0", "complete": true, "changes": [{"condition": "bits=8", "seed": 1}], "recordings": [{"audio": "b"}, {"audio": "a"}]}`))
	f.Add([]byte(`{"tool": "other"}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		c, err := ParseCopy(text)
		if err == nil && c != nil {
			_ = c.Changes.String()
			for _, r := range c.Recordings {
				if c.Of(r.Audio) == nil {
					t.Errorf("%q is not found", r.Audio)
				}
			}
		}
	})
}

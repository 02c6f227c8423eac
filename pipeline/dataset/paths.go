package dataset

import (
	"path"
	"regexp"
	"strings"

	"phonocycle/pipeline/pcg"
)

// pathReader reads what the path of a recording says, by the names that
// templates use. A path is read again whenever it is needed: kept for every
// recording, the fields would take more memory than all other data of it.
type pathReader struct {
	patterns []*regexp.Regexp

	file    string // the path that was read last
	fields  map[string]string
	matched bool // whether it matches a pattern
}

// read returns the fields of a path. They are valid until the next call.
func (r *pathReader) read(file string) (fields map[string]string, matched bool) {
	if r.file == file {
		return r.fields, r.matched
	}
	clear(r.fields)
	stem := strings.TrimSuffix(path.Base(file), path.Ext(file))
	r.file, r.matched = file, false
	r.fields["path"], r.fields["stem"] = file, stem
	if d := path.Dir(file); d != "." {
		r.fields["dir"] = d
	}
	for _, re := range r.patterns {
		m := re.FindStringSubmatch(file)
		if m == nil {
			continue
		}
		r.matched = true
		for i, group := range re.SubexpNames() {
			if group != "" {
				r.fields[group] = m[i]
			}
		}
		break
	}
	if r.fields["id"] == "" {
		r.fields["id"] = stem
	}
	return r.fields, r.matched
}

// of returns the fields of a recording. Tables may have given another person or
// site than the path.
func (r *pathReader) of(rec *pcg.Recording) map[string]string {
	fields, _ := r.read(rec.Audio)
	fields["person"], fields["site"] = rec.Person, rec.Site
	return fields
}

package dataset

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"syscall"
)

// LinkCounts counts the symbolic links below a data root.
type LinkCounts struct {
	Followed           int `json:"followed"` // to files that are read
	Outside            int `json:"outside"`  // to files out of the data root that are not read
	Broken             int `json:"broken"`   // to nothing
	Loops              int `json:"loops"`    // to themselves, or to a folder that holds them
	NoFiles            int `json:"no_files"` // to pipes, sockets and devices
	FoldersFollowed    int `json:"folders_followed"`
	FoldersNotFollowed int `json:"folders_not_followed"`
}

// String returns the counts above zero in words.
func (c LinkCounts) String() string {
	var parts []string
	for _, p := range []struct {
		n    int
		what string
	}{
		{c.Followed, "to files that are read"}, {c.Outside, "to files out of the data root, not read"}, {c.Broken, "to nothing"},
		{c.Loops, "in a loop"}, {c.NoFiles, "to pipes, sockets or devices"},
		{c.FoldersFollowed, "to folders that are read"}, {c.FoldersNotFollowed, "to folders that are not read"},
	} {
		if p.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", p.n, p.what))
		}
	}
	if c.Outside+c.FoldersNotFollowed > 0 {
		return strings.Join(parts, ", ") + " (--follow-links reads these)"
	}
	return strings.Join(parts, ", ")
}

// resolve returns what keeps a link from being read, zero for nothing, and what
// it leads to, nil for nothing.
func (d *folder) resolve(name string) (wrong defectType, to fs.FileInfo) {
	to, err := os.Stat(d.full(name))
	switch {
	case errors.Is(err, syscall.ELOOP):
		return linkLoop, nil
	case err != nil:
		return linkBroken, nil
	case to.IsDir() && d.room > 0 && d.holds(name, to): // else it is not followed anyway
		return folderLinkLoop, to
	case to.IsDir() && !d.follow:
		return folderLinked, to
	case !to.IsDir() && !to.Mode().IsRegular():
		return linkNoFile, to
	case d.follow:
		return defectType{}, to
	}
	if _, err := d.dir.Stat(filepath.FromSlash(name)); err != nil {
		return linkOutside, to
	}
	return defectType{}, to
}

// holds reports whether a name lies in a folder, or in one below it.
func (d *folder) holds(name string, in fs.FileInfo) bool {
	for name != "." {
		name = path.Dir(name)
		if above, err := os.Stat(d.full(name)); err == nil && os.SameFile(above, in) {
			return true
		}
	}
	return false
}

// target returns what a link says that it leads to.
func (d *folder) target(name string) string {
	to, err := os.Readlink(d.full(name))
	if err != nil {
		return "an unknown place"
	}
	return Printable(to)
}

// behind returns the linked folder that was not followed and holds a name, or
// the empty string.
func (d *folder) behind(name string) string {
	if len(d.closed) == 0 {
		return ""
	}
	for i := range name {
		if name[i] == '/' && d.closed[name[:i]] {
			return name[:i]
		}
	}
	return ""
}

// linkError says why a link, or what lies behind one, is not read; nil if there
// is no link or the link is no reason.
func (d *folder) linkError(name string) error {
	if !filepath.IsLocal(filepath.FromSlash(name)) {
		return nil
	}
	for i := range name + "/" {
		if i < len(name) && name[i] != '/' {
			continue
		}
		if _, err := d.dir.Readlink(filepath.FromSlash(name[:i])); err != nil {
			continue
		}
		if wrong, _ := d.resolve(name[:i]); wrong.kind != "" {
			defect := wrong.at(name[:i], 0, d.target(name[:i]))
			if i < len(name) {
				return errors.New(defect.String())
			}
			return fmt.Errorf("%s: %s", defect.Message, defect.Action)
		}
	}
	return nil
}

// openFollowing opens a regular file, also behind links. It looks before it
// opens, since opening a device may do something.
func (d *folder) openFollowing(name string) (*os.File, error) {
	if !filepath.IsLocal(filepath.FromSlash(name)) || path.Clean(name) != name {
		return nil, errEscape
	}
	info, err := os.Stat(d.full(name))
	if err == nil {
		err = checkRegular(info)
	}
	if err != nil {
		return nil, err
	}
	return os.OpenFile(d.full(name), os.O_RDONLY|syscall.O_NONBLOCK, 0)
}

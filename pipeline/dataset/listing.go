package dataset

import (
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
)

// listing is what lies below a folder.
type listing struct {
	folder   *folder
	files    []string // every regular file and every link to no folder, sorted
	others   []string // what is neither a file nor a folder that was read, sorted
	unread   []string // folders that were not read
	outside  []string // links out of the root that were not read
	unlinked []string // linked folders that were not followed for want of the flag
	defects  []Defect
	warnings []string
}

// list lists all that lies below f. Names that begin with a dot belong to the
// file system and are left out.
//
// What stands in the place of a recording and is no file, such as a pipe, is
// listed too, and so is every link that cannot be read: it becomes a recording,
// an annotation or a table that fails with the reason and not one that is
// missing. A folder that cannot be listed is a defect and a warning.
func (f *folder) list() (*listing, error) {
	l := &listing{folder: f}
	err := l.walk(".")
	slices.Sort(l.files)
	slices.Sort(l.others)
	l.warn("%d folders were not read, the first is %s: recordings in them are missing; scan says why", l.unread)
	l.warn("%d linked folders were not followed, the first is %s: recordings in them are missing; give --follow-links to read them", l.unlinked)
	l.warn("%d files are symbolic links out of the data root and were not read, the first is %s; give --follow-links to read them", l.outside)
	return l, err
}

// warn adds a warning of the names, if there are any, with their number and the
// first of them.
func (l *listing) warn(format string, names []string) {
	if len(names) > 0 {
		l.warnings = append(l.warnings, fmt.Sprintf(format, len(names), Printable(names[0])))
	}
}

// walk lists a folder, which may be a link, and all below it.
func (l *listing) walk(start string) error {
	f := l.folder
	tree := f.dir.FS()
	if f.follow {
		tree = os.DirFS(f.path)
	}
	return fs.WalkDir(tree, start, func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil && name == ".":
			return fmt.Errorf("list data root %s: %w; make the folder readable, or give another with --data", f.path, cause(err))
		case err != nil:
			l.unread = append(l.unread, name)
			l.defects = append(l.defects, folderUnreadable.at(name, 0, cause(err)))
			return fs.SkipDir
		case name == start:
		case strings.HasPrefix(entry.Name(), "."):
			if entry.IsDir() {
				return fs.SkipDir
			}
		case entry.Type().IsRegular():
			l.files = append(l.files, name)
		case entry.Type()&fs.ModeSymlink != 0:
			return l.addLink(name)
		default:
			l.others = append(l.others, name)
		}
		return nil
	})
}

// find returns the index of a file, or −1 for one that lies behind a linked
// folder which was not followed: it is there, and opening it says why it is not
// read.
func (l *listing) find(name string) (at int, ok bool) {
	if at, ok := slices.BinarySearch(l.files, name); ok {
		return at, true
	}
	if l.folder.behind(name) == "" {
		return 0, false
	}
	_, err := os.Stat(l.folder.full(name))
	return -1, err == nil
}

// addLink lists a symbolic link.
func (l *listing) addLink(name string) error {
	f := l.folder
	wrong, info := f.resolve(name)
	switch {
	case wrong.kind == "" && info.IsDir():
		if f.room > 0 {
			f.room--
			f.links.FoldersFollowed++
			return l.walk(name)
		}
		wrong = folderLinksTooMany
	case wrong.kind == "":
		f.links.Followed++
		l.files = append(l.files, name)
		return nil
	}
	l.defects = append(l.defects, wrong.at(name, 0, f.target(name)))
	if info != nil && info.IsDir() {
		f.closed[name] = true
	} else {
		l.files = append(l.files, name)
	}
	switch wrong.kind {
	case folderLinkLoop.kind, linkLoop.kind:
		f.links.Loops++
	case folderLinked.kind:
		f.links.FoldersNotFollowed++
		l.unlinked = append(l.unlinked, name)
	case folderLinksTooMany.kind:
		f.links.FoldersNotFollowed++
		l.unread = append(l.unread, name)
	case linkOutside.kind:
		f.links.Outside++
		l.outside = append(l.outside, name)
	case linkNoFile.kind:
		f.links.NoFiles++
	default:
		f.links.Broken++
	}
	return nil
}

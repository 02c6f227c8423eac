package dataset

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"phonocycle/pipeline/matfile"
)

// readMatlab reads an annotation from a cell array: one row per row of the
// annotation, and its columns in the order of the roles of the kind.
func (a *annotationReader) readMatlab(file io.Reader) {
	a.columns = &annotationColumns{key: -1, width: len(a.rule.rows.roles)}
	for i := range a.rule.rows.roles {
		a.columns.at = append(a.columns.at, i)
	}
	array, err := matfile.ReadVariable(file, a.rule.Variable)
	if err == nil && (array.Class != matfile.Cell || array.Columns != a.columns.width) {
		err = fmt.Errorf("variable %q has %d x %d elements of %v: want a cell array of %d columns: %s",
			array.Name, array.Rows, array.Columns, array.Class, a.columns.width, roleNames(a.rule.rows.roles))
	}
	if err != nil {
		a.defects = append(a.defects, matlabUnreadable.at(a.file, 0, err))
		return
	}
	fields := make([]string, a.columns.width)
	for row := range array.Rows {
		for i, role := range a.rule.rows.roles {
			text, ok := cellText(&array.Cells[i*array.Rows+row])
			if !ok {
				a.defects = append(a.defects, matlabCell.at(a.file, row+1, role))
				return
			}
			fields[i] = text
		}
		if a.add(row+1, fields) != nil {
			return
		}
	}
}

// cellText returns the number or the name in a cell. A name may stand in a cell
// of its own within the cell.
func cellText(c *matfile.Array) (text string, ok bool) {
	if c.Class == matfile.Cell && len(c.Cells) == 1 {
		c = &c.Cells[0]
	}
	if c.Class == matfile.Char && c.Rows <= 1 {
		return strings.TrimSpace(c.Text), true
	}
	x, ok := c.Number()
	return strconv.FormatFloat(x, 'f', -1, 64), ok
}

func roleNames(roles []role) string {
	var names []string
	for _, r := range roles {
		names = append(names, string(r))
	}
	return strings.Join(names, ", ")
}

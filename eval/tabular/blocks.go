package tabular

// blocks divides the columns of a table that is too wide into blocks, which are
// printed one below the other. Each begins with the leading columns of words, which
// name the rows, and columns of one group stay together where they fit. width holds
// what each column takes, its distance from the next included.
func blocks(columns []Column, width []float64, limit float64) [][]int {
	var stub []int
	for i := 0; i < len(columns) && columns[i].kind == word; i++ {
		stub = append(stub, i)
	}
	stubWidth := sum(width[:len(stub)])
	var list [][]int
	block, used := stub, stubWidth
	for i := len(stub); i < len(columns); {
		end := i + 1 // of the group
		for columns[i].Group != "" && end < len(columns) && columns[end].Group == columns[i].Group {
			end++
		}
		if used+sum(width[i:end]) > limit && len(block) > len(stub) {
			list = append(list, block)
			block, used = stub, stubWidth
		}
		if used+sum(width[i:end]) > limit { // the group takes more than a block
			end = i + 1
		}
		for ; i < end; i++ {
			block, used = append(block[:len(block):len(block)], i), used+width[i]
		}
	}
	return append(list, block)
}

func sum(values []float64) float64 {
	total := 0.0
	for _, v := range values {
		total += v
	}
	return total
}

// widen makes the last column of each group as wide as the name of the group needs.
func widen(columns []Column, width []float64, name func(string) float64) {
	for _, g := range spans(columns) {
		width[g.end-1] += max(0, name(g.name)-sum(width[g.start:g.end]))
	}
}

// span is a group of columns of a block, as positions within the block.
type span struct {
	name       string
	start, end int
}

// spans returns the groups of the columns of a block; nil if they have none.
func spans(columns []Column) []span {
	var list []span
	for i, c := range columns {
		if c.Group == "" {
			continue
		}
		if n := len(list); n > 0 && list[n-1].end == i && list[n-1].name == c.Group {
			list[n-1].end++
			continue
		}
		list = append(list, span{c.Group, i, i + 1})
	}
	return list
}

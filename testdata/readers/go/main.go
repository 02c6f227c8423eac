// Command go reads the table scores of a folder with the package that wrote it,
// and the states in each further file, which another program wrote.
package main

import (
	"fmt"
	"log"
	"os"

	"phonocycle/pipeline/table"
)

func main() {
	for row, err := range table.ReadParts[table.Score](table.PartsOf[table.Score](os.Args[1])) {
		if err != nil {
			log.Fatal(err)
		}
		fmt.Println(row.Recording, row.Class, row.TP, row.F1)
	}
	for _, path := range os.Args[2:] {
		n, last := 0, table.State{}
		for row, err := range table.Read[table.State](path) {
			if err != nil {
				log.Fatal(err)
			}
			n, last = n+1, row
		}
		fmt.Println(n, "states; the last:", last.Recording, last.State, last.Start, last.End)
	}
}

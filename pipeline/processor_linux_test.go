package pipeline

import (
	"os"
	"os/exec"
	"testing"
)

// The tables do not depend on what the processor can do: without AVX2 the inner
// loops are other code.
func TestTablesDoNotDependOnTheProcessor(t *testing.T) {
	binary := program(t)
	c := crowd(t, 4)
	for _, method := range []string{"shannon-peaks", "duration-hmm", "logistic-hsmm", "conv-hsmm"} {
		c.Method = method
		var tables [2]map[string][]byte
		for i, setting := range []string{"GODEBUG=", "GODEBUG=cpu.avx2=off"} {
			c = elsewhere(t, c)
			command := exec.Command(binary, arguments(c)...)
			command.Env = append(os.Environ(), setting)
			if out, err := command.CombinedOutput(); err != nil {
				t.Fatalf("%s: %v\n%s", method, err, out)
			}
			tables[i] = tablesOf(t, c.Out)
		}
		sameTables(t, method, tables[0], tables[1])
	}
}

package pipeline

import "testing"

// The tables do not depend on what the processor can do: without AVX2 the inner
// loops are other code.
func TestTablesDoNotDependOnTheProcessor(t *testing.T) {
	t.Parallel()
	c := crowd(t, 4)
	for _, method := range []string{"shannon-peaks", "duration-hmm", "logistic-hsmm", "conv-hsmm"} {
		c.Method = method
		var tables [2]map[string][]byte
		for i, setting := range []string{"GODEBUG=", "GODEBUG=cpu.avx2=off"} {
			c = elsewhere(t, c)
			command, output := processOf(t, c)
			command.Env = append(command.Env, setting)
			if err := command.Run(); err != nil {
				t.Fatalf("%s: %v\n%s", method, err, output)
			}
			tables[i] = tablesOf(t, c.Out)
		}
		sameTables(t, method, tables[0], tables[1])
	}
}

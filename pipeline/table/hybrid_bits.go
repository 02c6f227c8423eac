package table

import "encoding/binary"

// mostPacked is the number of groups of eight in one run of packed bits: its head
// is to fit into a byte.
const mostPacked = 63

// appendHybridBits adds levels of 0 and 1 in the hybrid encoding, see hybridRuns.
// Eight equal bits or more, from the end of a group of eight on, are a repeated
// run.
func appendHybridBits(b []byte, bits []int16) []byte {
	head, groups := 0, 0 // of the packed run under way, if groups > 0
	for len(bits) > 0 {
		run := 1
		for run < len(bits) && bits[run] == bits[0] {
			run++
		}
		if run >= 8 || groups == 0 && run == len(bits) {
			groups = 0
			b = binary.AppendUvarint(b, uint64(run)<<1)
			b = append(b, byte(bits[0]))
			bits = bits[run:]
			continue
		}
		if groups == 0 {
			head = len(b)
			b = append(b, 0)
		}
		var packed byte
		n := min(8, len(bits))
		for i, bit := range bits[:n] {
			packed |= byte(bit) << i
		}
		b = append(b, packed)
		bits = bits[n:]
		groups++
		b[head] = byte(groups<<1 | 1)
		if groups == mostPacked {
			groups = 0
		}
	}
	return b
}

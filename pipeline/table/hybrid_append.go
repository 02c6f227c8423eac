package table

import "encoding/binary"

// mostPacked is the number of groups of eight in one run of packed numbers: its
// head is to fit into a byte.
const mostPacked = 63

// appendHybrid adds numbers of the given width in bits in the hybrid encoding, see
// hybridRuns. Eight equal numbers or more, from the end of a group of eight on, are
// a repeated run.
func appendHybrid[N int16 | uint16](b []byte, numbers []N, width int) []byte {
	head, groups := 0, 0 // of the packed run under way, if groups > 0
	for len(numbers) > 0 {
		run := 1
		for run < len(numbers) && numbers[run] == numbers[0] {
			run++
		}
		if run >= 8 || groups == 0 && run == len(numbers) {
			groups = 0
			b = binary.AppendUvarint(b, uint64(run)<<1)
			b = append(b, byte(numbers[0]))
			if width > 8 {
				b = append(b, byte(uint16(numbers[0])>>8))
			}
			numbers = numbers[run:]
			continue
		}
		if groups == 0 {
			head = len(b)
			b = append(b, 0)
		}
		n := min(8, len(numbers))
		b = appendPacked(b, numbers[:n], width)
		numbers = numbers[n:]
		groups++
		b[head] = byte(groups<<1 | 1)
		if groups == mostPacked {
			groups = 0
		}
	}
	return b
}

// appendPacked adds up to eight numbers of the given width, and zeros for those
// that are missing to eight.
func appendPacked[N int16 | uint16](b []byte, numbers []N, width int) []byte {
	var bits uint64
	have, bytes := 0, width // bits that no byte holds yet, bytes that are to come
	for _, n := range numbers {
		bits |= uint64(n) << have
		for have += width; have >= 8; have -= 8 {
			b = append(b, byte(bits))
			bits >>= 8
			bytes--
		}
	}
	for ; bytes > 0; bytes-- {
		b = append(b, byte(bits))
		bits >>= 8
	}
	return b
}

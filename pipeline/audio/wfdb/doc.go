// Package wfdb reads records in the format of PhysioNet's waveform databases: a
// header of text (.hea), and the signal files that it names.
//
// # Header
//
// The first line that is no comment is the record line, the following ones are
// signal lines, one per signal:
//
//	name[/segments] signals [rate[/counter rate[(counter)]] [frames [time [date]]]]
//	file format[xN][:skew][+offset] [gain[(baseline)][/units]
//	    [resolution [zero [first value [checksum [block size [description]]]]]]]
//
// Brackets mark what may be left out. Then the rate is 250 frames a second, the
// gain 200 units of the converter per millivolt, the baseline the zero of the
// converter, its zero 0, its resolution 12 bits, and the number of samples per
// frame 1; a number of frames that is left out or 0 follows from the size of the
// file. A gain of 0 says that the signal is not calibrated, and counts as 200.
// Lines that begin with # are comments.
//
// # Signals
//
// Signals with the same file stand side by side in it, frame by frame, after
// offset bytes that belong to something else; a WAV file is so read as format 16
// after its header of 44 bytes. A signal with x2 behind its format has two
// samples in each frame. A skew of n says that its first n frames precede the
// record. The formats, little-endian unless said otherwise, are
//
//	16   two's complement of 16 bits        no sample: −32768
//	24   two's complement of 24 bits        no sample: −2^23
//	32   two's complement of 32 bits        no sample: −2^31
//	61   as 16, big-endian                  no sample: −32768
//	80   8 bits, 128 stands for 0           no sample: −128
//	212  two's complement of 12 bits, two   no sample: −2048
//	     samples in three bytes a, b, c:
//	     a + 256 (b mod 16) and c + 256 (b div 16)
//
// Others, and records of several segments, are an error.
//
// With the stored value d, the physical value is (d − baseline)/gain, in the units
// of the header, and NaN where there is no sample. As audio, full scale is that of
// the converter: (d − zero)/2^(b−1), with b its resolution if the header states
// one, else the bits of the format. In a signal file that is a WAV file the lowest
// code is a sample like any other, since WAV files have no code for "no sample".
//
// The checksum is the sum of the stored values in 16 bits. 0 counts as not
// stated, since programs write it without having computed it. Where it differs
// the samples are used and a warning is given.
//
// Every number of a header is a claim: memory is taken for samples that are there.
//
// # Source
//
// PhysioNet, WFDB Applications Guide: header(5) and signal(5). From memory.
package wfdb

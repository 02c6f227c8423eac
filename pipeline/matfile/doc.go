// Package matfile reads a variable of a MATLAB level 5 MAT-file, the format of
// MATLAB's save with -v6 and -v7: numbers, characters, and cell arrays of these.
//
// # Format
//
// A file begins with a header of 128 bytes: 116 of text, 8 of an offset that is
// not used here, a version, and two bytes that read "MI" where the file is
// big-endian and "IM" where it is little-endian. Data elements follow, each a
// tag of 8 bytes, the type and the number of bytes, and that many bytes, padded
// to a multiple of 8. An element of at most 4 bytes may be a small one: then the
// first half of the tag holds the number of bytes and the type in 16 bits each,
// and the second half holds the data.
//
// A variable is an element of type miMATRIX. It holds elements in turn: flags
// with the class of the array, its dimensions, its name, and what it contains:
// numbers in column order, the codes of characters, or for a cell array one
// miMATRIX per cell. Numbers may be stored in a narrower type than that of their
// class. An element of type miCOMPRESSED holds one other element, compressed with
// zlib (RFC 1950), and is not padded.
//
// Structures, objects, sparse arrays, functions and complex numbers are not
// read; other variables of the file may be of any class. MATLAB version 7.3
// writes HDF5, which is another format: [ErrVersion].
//
// Every length is a claim: memory is taken for bytes that are there, and
// compressed data grows to 16 MiB at most.
//
// # Source
//
// The MathWorks: MATLAB, MAT-File Format (the document of the level 5 format;
// the types of UTF-8, UTF-16, UTF-32 and compressed data came with version 7).
// From memory.
package matfile

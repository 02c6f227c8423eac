//go:build !amd64 || purego

// The compiler accepts functions without a body only in a package with an assembly
// file. Here none of them is called.

package matfile

import "errors"

// Errors of this package wrap one of these.
var (
	ErrFormat   = errors.New("not a MATLAB level 5 file")
	ErrVersion  = errors.New("a MATLAB file of another version")
	ErrDamaged  = errors.New("damaged MATLAB file")
	ErrVariable = errors.New("no such variable")
	ErrClass    = errors.New("class of array that is not read")
)

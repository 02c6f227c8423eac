//go:build !linux

package dataset

import "errors"

// dropRights is for Linux, where a thread can have rights of its own.
func dropRights() (restore func(), err error) {
	return nil, errors.New("only Linux gives a thread rights of its own")
}

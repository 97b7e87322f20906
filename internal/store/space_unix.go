//go:build !windows

package store

import (
	"errors"
	"syscall"
)

// noSpace reports whether the system said that the disk, or the person's share
// of it, is full.
func noSpace(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}

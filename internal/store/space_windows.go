package store

import (
	"errors"
	"syscall"
)

// noSpace reports whether the system said that the disk is full
// (ERROR_HANDLE_DISK_FULL 39, ERROR_DISK_FULL 112).
func noSpace(err error) bool {
	return errors.Is(err, syscall.Errno(39)) || errors.Is(err, syscall.Errno(112))
}

package cli

import (
	"errors"
	"syscall"
)

// The system's numbers for a full disk (winerror.h: ERROR_HANDLE_DISK_FULL and
// ERROR_DISK_FULL).
const (
	errorHandleDiskFull syscall.Errno = 39
	errorDiskFull       syscall.Errno = 112
)

// isFull reports whether err means that the disk is full.
func isFull(err error) bool {
	return errors.Is(err, errorHandleDiskFull) || errors.Is(err, errorDiskFull)
}

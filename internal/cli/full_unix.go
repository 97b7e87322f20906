//go:build unix

package cli

import (
	"errors"
	"syscall"
)

// isFull reports whether err means that the disk, or the person's share of it,
// is full.
func isFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}

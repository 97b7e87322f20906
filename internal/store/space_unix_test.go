//go:build !windows

package store

import "syscall"

var noSpaceError error = syscall.ENOSPC

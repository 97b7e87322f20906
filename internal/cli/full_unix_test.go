//go:build unix

package cli

import "syscall"

const diskFull = syscall.ENOSPC

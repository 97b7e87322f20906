package store

import "syscall"

var noSpaceError error = syscall.Errno(112)

//go:build unix

package timetable

import (
	"syscall"
	"time"
)

// cpu is how long this program has kept processors busy, so that other work on
// the machine does not count.
func cpu() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

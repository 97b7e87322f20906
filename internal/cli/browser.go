package cli

import (
	"os"
	"os/exec"
	"runtime"
)

// openBrowser shows address in the person's browser where there is a desktop.
// It never fails: the address stands in the window too.
func openBrowser(address string) {
	command := browserCommand(runtime.GOOS, os.Getenv)
	if command == nil {
		return
	}
	path, err := exec.LookPath(command[0])
	if err != nil {
		return
	}
	c := exec.Command(path, append(command[1:], address)...)
	if c.Start() == nil {
		go func() { _ = c.Wait() }() // how the browser ended is no concern of ours
	}
}

// browserCommand returns the command that opens an address on a system, nil
// where no desktop is running.
func browserCommand(system string, env func(string) string) []string {
	switch system {
	case "darwin":
		return []string{"open"}
	case "windows":
		return []string{"rundll32", "url.dll,FileProtocolHandler"}
	}
	if env("DISPLAY") == "" && env("WAYLAND_DISPLAY") == "" {
		return nil
	}
	return []string{"xdg-open"}
}

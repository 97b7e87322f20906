package cli

import (
	"net"
	"slices"
	"strconv"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

func portOf(t *testing.T, l net.Listener) int {
	t.Helper()
	tcp, ok := l.Addr().(*net.TCPAddr)
	if !ok {
		t.Fatalf("%v is no TCP address", l.Addr())
	}
	return tcp.Port
}

func TestProgramsStartedTogetherTakeDifferentPorts(t *testing.T) {
	seen := map[int]bool{}
	// More than there are ports to try, so that the last ones take any.
	for range morePorts + 3 {
		l, err := listen("")
		if err != nil {
			t.Fatal(err)
		}
		defer l.Close()
		port := portOf(t, l)
		if seen[port] {
			t.Errorf("port %d was given twice", port)
		}
		seen[port] = true
		if !ownMachineOnly(l) {
			t.Errorf("%v can be reached from elsewhere", l.Addr())
		}
		if want := "http://127.0.0.1:" + strconv.Itoa(port) + "/"; addressOf(l) != want {
			t.Errorf("the address is %s, want %s", addressOf(l), want)
		}
	}
}

func TestAPortInUseIsSaid(t *testing.T) {
	l, err := listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	_, err = listen(l.Addr().String())
	if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Machine || !strings.Contains(p.Text, l.Addr().String()) {
		t.Errorf("got %v", err)
	}
	for _, addr := range []string{"8737", ":", "127.0.0.1", "127.0.0.1:-1", "127.0.0.1:65536", "127.0.0.1:seven", "[::1", "a b:80"} {
		if l, err := listen(addr); err == nil {
			l.Close()
			t.Errorf("%q was taken for an address", addr)
		} else if studio.ProblemIn(err) == nil {
			t.Errorf("%q: %v", addr, err)
		}
	}
}

func TestAnAddressForEverybodyIsShownAsThisMachines(t *testing.T) {
	l, err := listen("0.0.0.0:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if want := "http://localhost:" + strconv.Itoa(portOf(t, l)) + "/"; addressOf(l) != want || !ownMachineOnly(l) {
		t.Errorf("the address is %s, want %s", addressOf(l), want)
	}
}

func TestPhonesGetTheSamePortWhereItIsFree(t *testing.T) {
	own, err := listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer own.Close()
	open := phonePort(own)
	// 127.0.0.1 is taken, by own itself, so there it must be another port.
	l, err := open("127.0.0.1")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if portOf(t, l) == portOf(t, own) {
		t.Error("one port was given twice")
	}
	if _, err := open("192.0.2.1"); err == nil { // RFC 5737: no machine has this address
		t.Error("a port was opened at an address this machine does not have")
	}
}

func TestTheBrowserOpensOnlyOnADesktop(t *testing.T) {
	env := func(set string) func(string) string {
		return func(name string) string {
			if name == set {
				return ":0"
			}
			return ""
		}
	}
	for _, c := range []struct {
		system, set string
		want        []string
	}{
		{"linux", "", nil},
		{"linux", "DISPLAY", []string{"xdg-open"}},
		{"linux", "WAYLAND_DISPLAY", []string{"xdg-open"}},
		{"freebsd", "", nil},
		{"darwin", "", []string{"open"}},
		{"windows", "", []string{"rundll32", "url.dll,FileProtocolHandler"}},
	} {
		if got := browserCommand(c.system, env(c.set)); !slices.Equal(got, c.want) {
			t.Errorf("%s with %q: %v, want %v", c.system, c.set, got, c.want)
		}
	}
}

// A desktop whose browser can't be started must not stop anything.
func TestAMissingBrowserIsNoFault(t *testing.T) {
	t.Setenv("DISPLAY", ":99")
	t.Setenv("PATH", t.TempDir())
	openBrowser("http://127.0.0.1:1/")
}

package cli

import (
	"errors"
	"fmt"
	"net"
	"strconv"
	"syscall"

	"aerugo/internal/studio"
)

const (
	usualHost = "127.0.0.1"
	usualPort = 8737
	morePorts = 20 // tried after the usual one
)

// listen opens the port for this machine's browser: at addr if one was given,
// else the first free one from the usual port on, else any.
func listen(addr string) (net.Listener, error) {
	if addr != "" {
		return listenAt(addr)
	}
	for port := usualPort; port <= usualPort+morePorts; port++ {
		if l, err := net.Listen("tcp", net.JoinHostPort(usualHost, strconv.Itoa(port))); err == nil {
			return l, nil
		}
	}
	l, err := net.Listen("tcp", net.JoinHostPort(usualHost, "0"))
	if err != nil {
		return nil, studio.Problemf(studio.Machine, "addr", "no port of this machine can be opened (%v); name one with --addr, like --addr 127.0.0.1:9000", err)
	}
	return l, nil
}

func listenAt(addr string) (net.Listener, error) {
	host, port, err := net.SplitHostPort(addr)
	n, perr := strconv.Atoi(port)
	if err != nil || perr != nil || n < 0 || n > 65535 {
		return nil, studio.Problemf(studio.Invalid, "addr", "%q is not an address to serve at; write host:port, like --addr 127.0.0.1:%d (port 0 takes a free one)", addr, usualPort)
	}
	l, err := net.Listen("tcp", net.JoinHostPort(host, port))
	switch {
	case err == nil:
		return l, nil
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, studio.Problemf(studio.Machine, "addr", "another program uses %s already; name another port with --addr, or leave --addr out to take a free one", addr)
	case errors.Is(err, syscall.EACCES):
		return nil, studio.Problemf(studio.Machine, "addr", "this machine does not let you use port %d; name one above 1023 with --addr", n)
	}
	return nil, studio.Problemf(studio.Machine, "addr", "this machine can't serve at %s (%v); name one of its own addresses with --addr, like 127.0.0.1:%d", addr, err, usualPort)
}

// addressOf returns what to type into this machine's browser to reach l.
func addressOf(l net.Listener) string {
	tcp, ok := l.Addr().(*net.TCPAddr)
	if !ok {
		return "http://" + l.Addr().String() + "/"
	}
	host := tcp.IP.String()
	if tcp.IP.IsUnspecified() {
		host = "localhost"
	}
	return fmt.Sprintf("http://%s/", net.JoinHostPort(host, strconv.Itoa(tcp.Port)))
}

// ownMachineOnly reports whether only this machine's browser reaches l, or
// reaches it as this machine's: it is then let in without a code.
func ownMachineOnly(l net.Listener) bool {
	tcp, ok := l.Addr().(*net.TCPAddr)
	return ok && (tcp.IP.IsLoopback() || tcp.IP.IsUnspecified())
}

// phonePort returns what opens a port for phones on an address of this machine:
// the same port as own if it is free there, else any.
func phonePort(own net.Listener) func(ip string) (net.Listener, error) {
	port := "0"
	if tcp, ok := own.Addr().(*net.TCPAddr); ok {
		port = strconv.Itoa(tcp.Port)
	}
	return func(ip string) (net.Listener, error) {
		if l, err := net.Listen("tcp", net.JoinHostPort(ip, port)); err == nil {
			return l, nil
		}
		return net.Listen("tcp", net.JoinHostPort(ip, "0"))
	}
}

package cli

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// A run of the tests removes the program it built.
type tidy struct{ *testing.M }

func (t tidy) Run() int {
	code := t.M.Run()
	if dir := builtDir; dir != "" {
		if err := os.RemoveAll(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
	}
	return code
}

func TestMain(m *testing.M) {
	testscript.Main(tidy{m}, map[string]func(){
		"aerugo": func() { os.Exit(Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
	})
}

var builtDir string

// built builds the real program, once, and returns its path.
var built = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "aerugo-built-")
	if err != nil {
		return "", err
	}
	builtDir = dir
	path := filepath.Join(dir, "aerugo"+exeSuffix)
	out, err := exec.Command("go", "build", "-o", path, "aerugo/cmd/aerugo").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, out)
	}
	return path, nil
})

// at runs the command line inside this process.
func at(args ...string) (stdout, stderr string, status int) {
	var out, errs bytes.Buffer
	status = Main(args, strings.NewReader(""), &out, &errs)
	return out.String(), errs.String(), status
}

// A serving is the real program, serving.
type serving struct {
	cmd     *exec.Cmd
	address string
	studio  string
	join    string // the page that lets this machine's browser in, if a code is asked for
	stderr  *bytes.Buffer
	rest    chan string // what it wrote after the address, once it ended
}

// serve starts the real program with --json and waits for its address.
func serve(args ...string) (*serving, error) {
	path, err := built()
	if err != nil {
		return nil, err
	}
	s := &serving{stderr: &bytes.Buffer{}, rest: make(chan string, 1)}
	s.cmd = exec.Command(path, append(args, "--json", "--no-open")...)
	s.cmd.Stderr = s.stderr
	out, err := s.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := s.cmd.Start(); err != nil {
		return nil, err
	}
	r := bufio.NewReader(out)
	var where place
	if err := json.NewDecoder(r).Decode(&where); err != nil {
		_ = s.cmd.Process.Kill()
		_ = s.cmd.Wait()
		return nil, fmt.Errorf("no address from %v: %w; it said %q", args, err, s.stderr)
	}
	s.address, s.studio, s.join = where.Address, where.Studio, strings.TrimPrefix(where.Join, where.Address)
	go func() {
		b, _ := io.ReadAll(r)
		s.rest <- string(b)
	}()
	return s, nil
}

// get returns the body of one page.
func (s *serving) get(path string) (string, int, error) {
	res, err := http.Get(s.address + strings.TrimPrefix(path, "/"))
	if err != nil {
		return "", 0, err
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	return string(b), res.StatusCode, err
}

// stop sends the signal that Ctrl-C sends and waits for the end.
func (s *serving) stop() error {
	if err := s.cmd.Process.Signal(os.Interrupt); err != nil {
		return err
	}
	<-s.rest
	return s.cmd.Wait()
}

// kill ends the program at once, as a power cut would.
func (s *serving) kill() {
	_ = s.cmd.Process.Kill() // it may have ended by itself
	<-s.rest
	_ = s.cmd.Wait() // how it ended is known: it was killed
}

package cli

import (
	"bytes"
	"compress/zlib"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var exeSuffix = map[bool]string{true: ".exe"}[runtime.GOOS == "windows"]

// plainLines is how the program speaks of what the person can mend.
var plainLines = regexp.MustCompile(`^(aerugo: [^\n]+\n)+$`)

// TestScripts types the commands of testdata/script, one file a verb. Beside
// the usual words a script may say
//
//	mend ARGS             run aerugo, which must end with status 2 and say why in plain lines
//	start ARGS            run the real program with ARGS until 'finish'; $ADDRESS is its address
//	get PATH              fetch a page of it, for 'stdout' to look at
//	finish                end it as Ctrl-C does; it must end with status 0
//	onlyfiles DIR NAMES   DIR holds these files and no other
//	shorten FILE COPY     COPY is the first half of FILE
//	newer DIR             make the studio one that a later Aerugo has used
func TestScripts(t *testing.T) {
	pictures, err := filepath.Abs("../picture/testdata")
	if err != nil {
		t.Fatal(err)
	}
	colours, err := filepath.Abs("../science/colour/testdata")
	if err != nil {
		t.Fatal(err)
	}
	type key struct{}
	running := func(ts *testscript.TestScript) *serving {
		s, ok := ts.Value(key{}).(**serving)
		if !ok || *s == nil {
			ts.Fatalf("nothing was started")
		}
		return *s
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireUniqueNames:  true,
		RequireExplicitExec: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("PICTURES", pictures)
			e.Setenv("TARGETS", filepath.Join(filepath.Dir(filepath.Dir(pictures)), "flow", "target", "testdata"))
			e.Setenv("MATS", filepath.Join(filepath.Dir(filepath.Dir(pictures)), "print", "testdata"))
			e.Setenv("COLOURS", colours)
			e.Values[key{}] = new(*serving)
			return badPictures(filepath.Join(e.WorkDir, "bad"), pictures)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"start": func(ts *testscript.TestScript, neg bool, args []string) {
				s, err := serve(inFolder(ts, args)...)
				ts.Check(err)
				*(ts.Value(key{}).(**serving)) = s
				ts.Setenv("ADDRESS", s.address)
				ts.Setenv("HOSTPORT", strings.Trim(strings.TrimPrefix(s.address, "http:"), "/"))
				ts.Setenv("JOIN", s.join)
				ts.Setenv("STUDIO", s.studio)
				ts.Defer(func() {
					if s.cmd.ProcessState == nil {
						s.kill()
					}
				})
			},
			"mend": func(ts *testscript.TestScript, neg bool, args []string) {
				err := ts.Exec("aerugo", args...)
				var exit *exec.ExitError
				if !errors.As(err, &exit) || exit.ExitCode() != exitMend {
					ts.Fatalf("it ended with %v, not with status %d", err, exitMend)
				}
				if said := ts.ReadFile("stderr"); !plainLines.MatchString(said) {
					ts.Fatalf("it said on standard error: %q", said)
				}
			},
			"get": func(ts *testscript.TestScript, neg bool, args []string) {
				body, status, err := running(ts).get(args[0])
				ts.Check(err)
				fmt.Fprintf(ts.Stdout(), "status %d\n%s", status, body)
			},
			"finish": func(ts *testscript.TestScript, neg bool, args []string) {
				s := running(ts)
				ts.Check(s.stop())
				if s.stderr.Len() > 0 {
					ts.Fatalf("it said on standard error: %s", s.stderr)
				}
			},
			"onlyfiles": func(ts *testscript.TestScript, neg bool, args []string) {
				entries, err := os.ReadDir(ts.MkAbs(args[0]))
				ts.Check(err)
				for _, e := range entries {
					if !slices.Contains(args[1:], e.Name()) {
						ts.Fatalf("%s is there too", e.Name())
					}
				}
				if len(entries) != len(args)-1 {
					ts.Fatalf("there are %d files, not %d", len(entries), len(args)-1)
				}
			},
			"shorten": func(ts *testscript.TestScript, neg bool, args []string) {
				b := ts.ReadFile(args[0])
				ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(b[:len(b)/2]), 0o666))
			},
			"newer": func(ts *testscript.TestScript, neg bool, args []string) {
				db, err := sql.Open("sqlite", filepath.Join(ts.MkAbs(args[0]), "studio.db"))
				ts.Check(err)
				defer db.Close()
				_, err = db.Exec(`INSERT INTO schema_history (version_id, is_applied) VALUES (999, 1)`)
				ts.Check(err)
			},
		},
	})
}

// inFolder makes folders named after --studio absolute: the real program does
// not run in the script's folder.
func inFolder(ts *testscript.TestScript, args []string) []string {
	out := append([]string(nil), args...)
	for i := 1; i < len(out); i++ {
		if out[i-1] == "--studio" {
			out[i] = ts.MkAbs(out[i])
		}
	}
	return out
}

// badPictures writes pictures that must be refused, or be read in spite of
// their name, into dir.
func badPictures(dir, pictures string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	jpeg, err := os.ReadFile(filepath.Join(pictures, "p8_srgb.jpg"))
	if err != nil {
		return err
	}
	png, err := os.ReadFile(filepath.Join(pictures, "p8_srgb.png"))
	if err != nil {
		return err
	}
	moving, err := movingGIF()
	if err != nil {
		return err
	}
	for name, data := range map[string][]byte{
		"empty.jpg":      nil,
		"broken-off.jpg": jpeg[:len(jpeg)/2],
		"broken-off.png": png[:len(png)-200],
		"really-png.jpg": png,
		"really-jpg.png": jpeg,
		"notes.jpg":      []byte("degrease, rinse, dry\n"),
		"huge.png":       hugePNG(12000, 9000),
		"moving.gif":     moving,
		"moving.webp":    movingWebP(),
		"archive.jpg":    []byte("PK\x03\x04 and so on"),
	} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o666); err != nil {
			return err
		}
	}
	return nil
}

// hugePNG declares so many pixels with next to no data (PNG, third edition,
// W3C 2025, section 5: signature, IHDR, IDAT, IEND).
func hugePNG(w, h uint32) []byte {
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	chunk := func(kind string, data []byte) {
		binary.Write(&b, binary.BigEndian, uint32(len(data)))
		b.WriteString(kind)
		b.Write(data)
		binary.Write(&b, binary.BigEndian, crc32.ChecksumIEEE(append([]byte(kind), data...)))
	}
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	chunk("IHDR", append(head, 8, 2, 0, 0, 0))
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	z.Write(make([]byte, 100))
	z.Close()
	chunk("IDAT", packed.Bytes())
	chunk("IEND", nil)
	return b.Bytes()
}

func movingGIF() ([]byte, error) {
	var b bytes.Buffer
	frame := image.NewPaletted(image.Rect(0, 0, 64, 64), color.Palette{color.Black, color.White})
	err := gif.EncodeAll(&b, &gif.GIF{Image: []*image.Paletted{frame, frame}, Delay: []int{10, 10}})
	return b.Bytes(), err
}

// movingWebP is the head of an animated WebP (RFC 9649, sections 2.5 and 2.7:
// the flag 'A' of VP8X, and an ANIM chunk).
func movingWebP() []byte {
	body := "WEBP" + "VP8X\x0a\x00\x00\x00" + "\x02\x00\x00\x00" + "\x3f\x00\x00" + "\x3f\x00\x00" +
		"ANIM\x06\x00\x00\x00" + strings.Repeat("\x00", 6)
	return append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(body))), body...)
}

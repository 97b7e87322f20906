package cli

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// The seed from which the moments of killing, and what is sent, come.
const killSeed = 20261125

// rounds returns how often the programs are killed: AERUGO_KILLS, else 12, in
// three equal parts.
func rounds(t *testing.T) [3]int {
	n := 12
	if text := os.Getenv("AERUGO_KILLS"); text != "" {
		var err error
		if n, err = strconv.Atoi(text); err != nil || n < 3 {
			t.Fatalf("AERUGO_KILLS is %q; it must be a number from 3 on", text)
		}
	}
	return [3]int{(n + 2) / 3, (n + 1) / 3, n / 3}
}

// TestNothingIsLostWhenTheProgramIsKilled kills the real program (SIGKILL) at
// random moments while taps, photographs and an archive come in. Then: what was
// answered is in the record exactly once, also when it is sent again; every
// photograph in the record has its whole file; an import is there whole or not
// at all; and the studio's own check finds no fault.
func TestNothingIsLostWhenTheProgramIsKilled(t *testing.T) {
	n := rounds(t)
	b := newBench(t)
	began := time.Now()
	var sum killed
	for _, part := range []struct {
		name   string
		rounds int
		round  func(*testing.T, *bench, *rand.Rand) killed
	}{
		{"taps", n[0], killTaps}, {"photographs", n[1], killPhotos}, {"import", n[2], killImport},
	} {
		for i := range part.rounds {
			rng := rand.New(rand.NewPCG(killSeed, uint64(len(part.name)*10000+i)))
			t.Run(fmt.Sprintf("%s-%d", part.name, i+1), func(t *testing.T) { sum.add(part.round(t, b, rng)) })
			if t.Failed() {
				return
			}
		}
	}
	t.Logf("%d kills in %.0f s: %d taps and %d photographs answered, %d and %d under way when killed; %d imports not there afterwards, %d whole, %d of them already done when killed; nothing was lost or doubled",
		n[0]+n[1]+n[2], time.Since(began).Seconds(), sum.taps, sum.photos, sum.openTaps, sum.openPhotos, sum.nothing, sum.whole, sum.done)
	if n[0] > 20 && (sum.openTaps == 0 || sum.openPhotos == 0 || sum.nothing == 0 || sum.whole == 0) {
		t.Error("the kills missed what they were aimed at")
	}
}

// killed counts what rounds did.
type killed struct {
	taps, openTaps, photos, openPhotos, nothing, whole, done int
}

func (k *killed) add(o killed) {
	k.taps += o.taps
	k.openTaps += o.openTaps
	k.photos += o.photos
	k.openPhotos += o.openPhotos
	k.nothing += o.nothing
	k.whole += o.whole
	k.done += o.done
}

// A bench is what every round begins with: a studio closed well, photographs
// to send and an archive to import.
type bench struct {
	program    string
	studio     string
	treatments []int64
	swatches   []int64
	jpegs      [][]byte
	archive    string
	full       store.Counts
}

func newBench(t *testing.T) *bench {
	t.Helper()
	b := &bench{studio: filepath.Join(t.TempDir(), "studio")}
	var err error
	if b.program, err = built(); err != nil {
		t.Fatal(err)
	}
	ctx := t.Context()
	s := opened(t, b.studio)
	metal, err := s.SaveMetal(ctx, studio.Metal{Name: "Copper", Alloy: "C11000", ThicknessMM: 0.8})
	if err != nil {
		t.Fatal(err)
	}
	steps := []studio.Step{
		{Kind: studio.Degrease}, {Kind: studio.Rinse},
		{Kind: studio.Sprinkle, Material: "sodium-chloride", Amount: studio.Amount{Value: 11, SD: 4, Unit: studio.GramPerM2}},
		{Kind: studio.Rest, Duration: time.Hour, Place: "bench"}, {Kind: studio.BrushOut}, {Kind: studio.Dry, Duration: time.Hour},
	}
	var pieces []store.NewSwatch
	for i := range 40 {
		pieces = append(pieces, store.NewSwatch{
			Swatch:     studio.Swatch{MetalID: metal.ID, WidthMM: 50, HeightMM: 50},
			Treatments: []studio.Treatment{{Faces: studio.OnBoth, Layer: 1, Steps: steps, Order: i + 1, Replicate: 1}},
		})
	}
	set, swatches, err := s.AddSet(ctx, studio.Set{Name: "Salt", Shape: studio.Loose, Replicates: 1, MetalID: metal.ID, WidthMM: 50, HeightMM: 50, SameFaces: true}, pieces)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range swatches {
		b.swatches = append(b.swatches, w.Number)
	}
	treatments, err := s.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range treatments {
		b.treatments = append(b.treatments, x.ID)
	}
	rng := rand.New(rand.NewPCG(killSeed, 1))
	for range 40 {
		b.jpegs = append(b.jpegs, noisyJPEG(t, rng))
	}
	shut(t, s)

	full := b.copyOf(t)
	s = opened(t, full)
	for i, data := range b.jpegs {
		if _, _, err := s.AddPhoto(ctx, photoOf(b.swatches[i], fmt.Sprint("archive-", i), data), data); err != nil {
			t.Fatal(err)
		}
		if _, err := s.AddEvents(ctx, []studio.Event{{Treatment: b.treatments[i], Client: fmt.Sprint("archive-", i), Kind: studio.Began, At: time.Now().Add(-time.Hour)}}); err != nil {
			t.Fatal(err)
		}
	}
	if b.full, err = s.Seen(ctx); err != nil {
		t.Fatal(err)
	}
	shut(t, s)
	b.archive = filepath.Join(t.TempDir(), "studio.zip")
	if out, err := exec.Command(b.program, "export", "--studio", full, "--to", b.archive).CombinedOutput(); err != nil {
		t.Fatalf("export: %v\n%s", err, out)
	}
	return b
}

func photoOf(swatch int64, client string, data []byte) studio.Photo {
	sum := sha256.Sum256(data)
	return studio.Photo{Swatch: swatch, Face: studio.Front, Moment: studio.Finished, Taken: time.Now().Add(-time.Minute), TakenFrom: "arrival",
		SHA256: hex.EncodeToString(sum[:]), Format: "JPEG", Bytes: int64(len(data)), Width: 480, Height: 360, Profile: "sRGB (assumed)", Client: client}
}

// noisyJPEG is a picture no other is equal to, of about 100 kB.
func noisyJPEG(t *testing.T, rng *rand.Rand) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 480, 360))
	for i := range m.Pix {
		m.Pix[i] = uint8(rng.UintN(256))
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 80}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// copyOf makes a studio of its own for one round.
func (b *bench) copyOf(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "studio")
	if err := os.CopyFS(dir, os.DirFS(b.studio)); err != nil {
		t.Fatal(err)
	}
	return dir
}

func opened(t *testing.T, dir string) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), dir, store.Options{})
	if err != nil {
		t.Fatalf("the studio does not open: %v", err)
	}
	return s
}

func shut(t *testing.T, s *store.Store) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// sound asks the studio's own check.
func sound(t *testing.T, s *store.Store) {
	t.Helper()
	faults, err := s.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range faults {
		t.Error(f)
	}
}

// sent is one request, and whether it was answered.
type sent struct {
	path     string
	form     url.Values
	data     []byte   // of a photograph
	keys     []string // under which the record must know it
	answered bool
}

// post sends it; an answer other than "kept" is an error of its own kind.
func (x *sent) post(address string, slow *rand.Rand) error {
	body, kind := io.Reader(strings.NewReader(x.form.Encode())), "application/x-www-form-urlencoded"
	if x.data != nil {
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		for name, values := range x.form {
			if err := w.WriteField(name, values[0]); err != nil {
				return err
			}
		}
		part, err := w.CreateFormFile("photo", "face.jpg")
		if err != nil {
			return err
		}
		if _, err := part.Write(x.data); err != nil {
			return err
		}
		if err := w.Close(); err != nil {
			return err
		}
		body, kind = io.MultiReader(&b), w.FormDataContentType()
		if slow != nil {
			body = &slowly{&b, slow}
		}
	}
	req, err := http.NewRequest("POST", address+x.path, body)
	if err != nil {
		return err
	}
	req.Header.Set("Content-Type", kind)
	req.Header.Set("Accept", "application/json")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return err
	}
	defer res.Body.Close()
	answer, err := io.ReadAll(res.Body)
	if err != nil {
		return err
	}
	var kept struct{ OK bool }
	if err := json.Unmarshal(answer, &kept); err != nil || !kept.OK || res.StatusCode != http.StatusOK {
		return refused{fmt.Sprintf("status %d: %s", res.StatusCode, answer)}
	}
	x.answered = true
	return nil
}

// refused is an answer that says no, which no round expects.
type refused struct{ text string }

func (r refused) Error() string { return r.text }

// slowly gives a body out in pieces, as a phone at the far end of the workshop
// does.
type slowly struct {
	r   io.Reader
	rng *rand.Rand
}

func (s *slowly) Read(b []byte) (int, error) {
	time.Sleep(time.Duration(s.rng.IntN(4)) * time.Millisecond)
	return s.r.Read(b[:min(len(b), 8192)])
}

// killAmid serves dir, has hands post their requests one after another, kills
// the program at a random moment and returns what was sent.
func killAmid(t *testing.T, dir string, rng *rand.Rand, most time.Duration, hands [][]*sent) (all []*sent) {
	t.Helper()
	p, err := serve("serve", "--studio", dir, "--addr", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var (
		wait  sync.WaitGroup
		mu    sync.Mutex
		start = make(chan struct{})
	)
	for i, hand := range hands {
		slow := rand.New(rand.NewPCG(rng.Uint64(), uint64(i)))
		wait.Go(func() {
			<-start
			for _, x := range hand {
				mu.Lock()
				all = append(all, x)
				mu.Unlock()
				if err := x.post(p.address, slow); err != nil {
					var no refused
					if errors.As(err, &no) {
						t.Errorf("%s %v was refused: %v", x.path, x.keys, no)
					}
					return // killed
				}
			}
		})
	}
	close(start)
	time.Sleep(time.Duration(rng.Int64N(int64(most))))
	p.kill()
	wait.Wait()
	return all
}

// again serves dir once more and sends everything a second time.
func again(t *testing.T, dir string, all []*sent) {
	t.Helper()
	p, err := serve("serve", "--studio", dir, "--addr", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range all {
		if err := x.post(p.address, nil); err != nil {
			t.Errorf("%v, sent again: %v", x.keys, err)
		}
	}
	if err := p.stop(); err != nil {
		t.Errorf("it did not end well: %v\n%s", err, p.stderr)
	}
}

// tapsOf counts the events in the record by key.
func tapsOf(t *testing.T, s *store.Store, b *bench) map[string]int {
	t.Helper()
	events, err := s.Events(t.Context(), b.treatments)
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for _, list := range events {
		for _, e := range list {
			count[e.Client]++
		}
	}
	return count
}

func killTaps(t *testing.T, b *bench, rng *rand.Rand) (k killed) {
	dir := b.copyOf(t)
	hands := make([][]*sent, 4)
	for i := range b.treatments {
		h := &hands[i%len(hands)]
		of := strconv.FormatInt(b.treatments[i], 10)
		if i%8 < 4 { // two begin together, with one tap
			j := i + 4
			key := fmt.Sprintf("begin-%d", i)
			with := strconv.FormatInt(b.treatments[j], 10)
			*h = append(*h, &sent{path: "begin", form: url.Values{"client": {key}, "t": {of, with}}, keys: []string{key + "/" + of, key + "/" + with}})
		}
		for step := range 6 {
			key := fmt.Sprintf("tap-%d-%d-%d", i, step, rng.Uint64())
			kind := url.Values{"client": {key}, "of": {of + ":" + strconv.Itoa(step)}, "kind": {"done"}}
			if step == 3 {
				kind.Set("temp", "19.5")
				kind.Set("note", "smells of the sea")
			}
			*h = append(*h, &sent{path: "taps", form: kind, keys: []string{key}})
		}
	}
	all := killAmid(t, dir, rng, 300*time.Millisecond, hands)
	look := func(when string, must func(*sent) bool) {
		s := opened(t, dir)
		defer shut(t, s)
		sound(t, s)
		count := tapsOf(t, s, b)
		known := 0
		for _, x := range all {
			n := 0
			for _, key := range x.keys {
				if count[key] > 1 {
					t.Errorf("%s: tap %s is in the record %d times", when, key, count[key])
				}
				n += count[key]
			}
			known += n
			if n != 0 && n != len(x.keys) {
				t.Errorf("%s: of the tap %v only a part is in the record", when, x.keys)
			}
			if must(x) && n != len(x.keys) {
				t.Errorf("%s: tap %v was answered and is not in the record", when, x.keys)
			}
		}
		total := 0
		for _, n := range count {
			total += n
		}
		if total != known {
			t.Errorf("%s: the record holds %d events, and %d were sent", when, total, known)
		}
	}
	for _, x := range all {
		if x.answered {
			k.taps++
		} else {
			k.openTaps++
		}
	}
	look("after the kill", func(x *sent) bool { return x.answered })
	again(t, dir, all)
	look("sent again", func(*sent) bool { return true })
	return k
}

func killPhotos(t *testing.T, b *bench, rng *rand.Rand) (k killed) {
	dir := b.copyOf(t)
	hands := make([][]*sent, 2)
	first := rng.IntN(len(b.jpegs))
	for i := range b.jpegs {
		h := &hands[i%len(hands)]
		key := fmt.Sprintf("photo-%d-%d", i, rng.Uint64())
		*h = append(*h, &sent{path: "photos", keys: []string{key}, data: b.jpegs[(first+i)%len(b.jpegs)],
			form: url.Values{"client": {key}, "swatch": {strconv.FormatInt(b.swatches[i], 10)}, "face": {"front"}, "moment": {"finished"}}})
	}
	all := killAmid(t, dir, rng, 600*time.Millisecond, hands)
	look := func(when string, must func(*sent) bool) {
		s := opened(t, dir)
		defer shut(t, s)
		sound(t, s)
		rows := map[string][]studio.Photo{}
		total := 0
		for _, w := range b.swatches {
			photos, err := s.PhotosOf(t.Context(), w)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range photos {
				rows[p.Client] = append(rows[p.Client], p)
				total++
			}
		}
		known := 0
		for _, x := range all {
			got := rows[x.keys[0]]
			known += len(got)
			if len(got) > 1 || (must(x) && len(got) != 1) {
				t.Errorf("%s: photograph %v is in the record %d times; it was answered: %v", when, x.keys, len(got), x.answered)
			}
			for _, p := range got {
				data, err := s.PhotoData(t.Context(), p.ID)
				if err != nil {
					t.Errorf("%s: photograph %v has no file: %v", when, x.keys, err)
					continue
				}
				if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != p.SHA256 || !bytes.Equal(data, x.data) {
					t.Errorf("%s: the file of photograph %v is not what was sent", when, x.keys)
				}
			}
		}
		if total != known {
			t.Errorf("%s: the record holds %d photographs, and %d were sent", when, total, known)
		}
	}
	for _, x := range all {
		if x.answered {
			k.photos++
		} else {
			k.openPhotos++
		}
	}
	look("after the kill", func(x *sent) bool { return x.answered })
	again(t, dir, all)
	look("sent again", func(*sent) bool { return true })
	return k
}

// photosAt counts files below a studio's photographs.
func photosAt(dir string, pattern ...string) int {
	found, _ := filepath.Glob(filepath.Join(append([]string{dir, "photos"}, pattern...)...)) // the patterns are good ones
	return len(found)
}

func killImport(t *testing.T, b *bench, rng *rand.Rand) (k killed) {
	dir := filepath.Join(t.TempDir(), "fresh")
	c := exec.Command(b.program, "import", "--studio", dir, b.archive)
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	// By how far it has come and not by the clock, so that a busy machine does not
	// turn every kill into an early one.
	come, least, slack := func() int { return 1 }, 1, 60*time.Millisecond // at the start
	placed := func() int { return photosAt(dir, "[0-9a-f][0-9a-f]", "*") }
	switch rng.IntN(4) {
	case 0: // photographs arrive
		come, least, slack = func() int { return photosAt(dir, ".arriving", "*", "*") }, 1+rng.IntN(len(b.jpegs)), 4*time.Millisecond
	case 1: // photographs move to their places
		come, least, slack = placed, 1+rng.IntN(len(b.jpegs)), 4*time.Millisecond
	case 2: // all becomes valid
		come, least, slack = placed, len(b.jpegs), 25*time.Millisecond
	}
	over := false
	for come() < least && !over {
		select {
		case err := <-ended:
			if over = true; err != nil {
				t.Fatal(err)
			}
		case <-time.After(500 * time.Microsecond):
		}
	}
	if !over {
		select {
		case err := <-ended:
			if over = true; err != nil {
				t.Fatal(err)
			}
		case <-time.After(time.Duration(rng.Int64N(int64(slack)))):
			if err := c.Process.Kill(); err != nil && !errors.Is(err, os.ErrProcessDone) {
				t.Fatal(err)
			}
			<-ended // how it ended is known: it was killed
		}
	}
	if over {
		k.done++
	}
	state := func() store.Counts {
		s := opened(t, dir)
		defer shut(t, s)
		sound(t, s)
		counts, err := s.Seen(context.WithoutCancel(t.Context()))
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range b.swatches {
			photos, err := s.PhotosOf(t.Context(), w)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range photos {
				data, err := s.PhotoData(t.Context(), p.ID)
				if err != nil {
					t.Errorf("photograph %d has no file: %v", p.ID, err)
					continue
				}
				if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != p.SHA256 {
					t.Errorf("the file of photograph %d is not what was in the archive", p.ID)
				}
			}
		}
		return counts
	}
	switch got := state(); got {
	case b.full:
		k.whole++
	case store.Counts{Empty: true}:
		k.nothing++
		// What the killed one left must not stand in the way of the next.
		if out, err := exec.Command(b.program, "import", "--studio", dir, b.archive).CombinedOutput(); err != nil {
			t.Fatalf("import again: %v\n%s", err, out)
		}
		if got := state(); got != b.full {
			t.Errorf("imported again: %+v, want %+v", got, b.full)
		}
	default:
		t.Errorf("after the kill the studio holds a part: %+v, of %+v", got, b.full)
	}
	return k
}

package heif

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// survives decodes a file that may be damaged. An error is as good as a
// picture, but a panic that had to be caught is not.
func survives(t testing.TB, what string, file []byte) error {
	t.Helper()
	info, err := ReadInfo(file)
	p, again, err2 := Decode(file, 1<<18)
	for _, e := range []error{err, err2} {
		if e != nil && strings.Contains(e.Error(), "damaged file:") {
			t.Fatalf("%s: %v", what, e)
		}
	}
	if err2 != nil {
		return err2
	}
	if err != nil || info.Width != again.Width || p.Width*p.Height > 1<<18 {
		t.Fatalf("%s: %v, %+v, %+v", what, err, info, again)
	}
	p.RGB()
	return nil
}

func corpus(t testing.TB) map[string][]byte {
	t.Helper()
	names, err := filepath.Glob("testdata/*.heic")
	if err != nil || len(names) < 30 {
		t.Fatal(len(names), err)
	}
	out := map[string][]byte{}
	for _, n := range names {
		b, err := os.ReadFile(n)
		if err != nil {
			t.Fatal(err)
		}
		if len(b) < 6000 {
			out[filepath.Base(n)] = b
		}
	}
	out["grid"] = muxGrid(gridTiles(t)[:2], 2, 256, 96, irot(1), clap)
	return out
}

func TestTruncatedFilesAreErrors(t *testing.T) {
	for _, name := range []string{"p8_p3.heic", "random_tiles_2.heic", "random_wavedeps_1.heic"} {
		file := read(t, name)
		for n := range len(file) {
			// A picture may lack its very last bytes: a stop bit and padding.
			if err := survives(t, name, file[:n]); err == nil && n < len(file)-4 {
				t.Errorf("%s cut to %d of %d bytes is decoded", name, n, len(file))
			}
		}
	}
}

func TestDamagedFilesDoNotPanic(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for name, file := range corpus(t) {
		for range 60 {
			b := bytes.Clone(file)
			for range 1 + r.IntN(4) {
				b[r.IntN(len(b))] = byte(r.IntN(256))
			}
			survives(t, name, b)
		}
	}
}

func TestLargePicturesAreRefused(t *testing.T) {
	file := read(t, "q60.heic") // 128 by 96
	if _, _, err := Decode(file, 128*96-1); err == nil || !strings.Contains(err.Error(), "larger than") {
		t.Errorf("error %v", err)
	}
	if _, _, err := Decode(file, 128*96); err != nil {
		t.Error(err)
	}
	if _, _, err := Decode(file, 0); err == nil {
		t.Error("a picture of no pixels allowed is decoded")
	}
	// A grid of 256 by 256 tiles that are all the same small item.
	it := coded(file)
	g := muxItem{kind: "grid", data: join([]byte{0, 1, 255, 255}, u32(128*256), u32(96*256)), refs: map[string][]int{}}
	for range 256 * 255 {
		g.refs["dimg"] = append(g.refs["dimg"], 1)
	}
	if _, _, err := Decode(mux([]muxItem{g, it}), 1<<20); err == nil {
		t.Error("a huge grid is decoded")
	}
}

// A few bytes that claim a picture of tiles far larger than any, or of the largest
// size that is allowed, must not make the decoder take more than 200 MB in all.
func TestHugeGridsTakeLittleMemory(t *testing.T) {
	it := coded(read(t, "q60.heic"))
	for _, side := range []int{7500, 30000, 1<<31 - 1} {
		g := muxItem{kind: "grid", data: join([]byte{0, 1, 0, 0}, u32(side), u32(side)), refs: map[string][]int{"dimg": {1}}}
		file := mux([]muxItem{g, it})
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, _, err := Decode(file, 60e6)
		runtime.ReadMemStats(&after)
		if err == nil {
			t.Errorf("one small tile was read as %d x %d", side, side)
		}
		if took := after.TotalAlloc - before.TotalAlloc; took > 200<<20 {
			t.Errorf("%d x %d: %d MB were allocated before it was refused", side, side, took>>20)
		}
	}
}

// TestCheapClaimsCostNothing gives boxes that promise far more than they hold.
func TestCheapClaimsCostNothing(t *testing.T) {
	ftyp := mkbox("ftyp", []byte("heic"), u32(0), []byte("mif1heic"))
	infe := fullbox("infe", 2, u16(1), u16(0), []byte("hvc1"), []byte{0})
	pitm := fullbox("pitm", 0, u16(1))
	iinf := fullbox("iinf", 0, u16(1), infe)
	// Extents that take no bytes to write: 65535 for every six bytes.
	var zeros []byte
	for range 2000 {
		zeros = join(zeros, u16(1), u16(0), u16(65535))
	}
	for name, b := range map[string][]byte{
		"too many extents":    join(ftyp, fullbox("meta", 0, pitm, iinf, fullbox("iloc", 0, u16(0), u16(2000), zeros))),
		"properties to come":  join(ftyp, fullbox("meta", 0, pitm, iinf, mkbox("iprp", mkbox("ipco"), fullbox("ipma", 0, u32(-1))))),
		"items to come":       join(ftyp, fullbox("meta", 0, pitm, iinf, fullbox("iloc", 2, u16(0x4400), u32(-1)))),
		"references to come":  join(ftyp, fullbox("meta", 0, pitm, iinf, fullbox("iref", 1, mkbox("dimg", u32(1), u16(65535))))),
		"a box of 2^63 bytes": join(ftyp, u32(1), []byte("meta"), u32(1<<31), u32(0)),
		"nothing":             ftyp,
		"an empty meta box":   join(ftyp, mkbox("meta")),
	} {
		err := survives(t, name, b)
		if err == nil || name == "too many extents" && !strings.Contains(err.Error(), name) {
			t.Errorf("%s: error %v", name, err)
		}
	}
}

func FuzzDecode(f *testing.F) {
	for _, b := range corpus(f) {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		survives(t, "input", b)
	})
}

// FuzzPicture skips the container, so that every change reaches the bitstream.
func FuzzPicture(f *testing.F) {
	cfgs := map[byte]*config{}
	i := byte(0)
	for _, name := range []string{"grey", "random_pcm_1", "random_tiles_1", "random_tiledeps_2", "random_wavedeps_1", "random_s422_1", "random_s444ten_1", "random_twelve_1", "random_mixed_1"} {
		it := coded(read(f, name+".heic"))
		cfg, err := parseConfig(it.props[0][8:])
		if err != nil {
			f.Fatal(err)
		}
		cfgs[i] = cfg
		f.Add(i, it.data)
		i++
	}
	f.Fuzz(func(t *testing.T, k byte, data []byte) {
		d := &picture{}
		_ = d.decode(cfgs[k%byte(len(cfgs))], data, 1<<18) // must not panic
	})
}

func FuzzParameterSets(f *testing.F) {
	for _, b := range corpus(f) {
		if c, err := readContainer(b); err == nil {
			if src, err := c.source(); err == nil {
				hvcC, _ := src.tile.prop("hvcC")
				f.Add(hvcC)
			}
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		cfg, err := parseConfig(b)
		if err != nil {
			return
		}
		for id := range cfg.pps {
			if s, p, err := cfg.find(id); err == nil && s.width*s.height <= 1<<20 {
				if l, err := newLayout(s, p); err == nil && len(l.toTile) != s.widthCTB*s.heightCTB {
					t.Fatalf("layout of %d CTBs for %d by %d", len(l.toTile), s.widthCTB, s.heightCTB)
				}
			}
		}
	})
}

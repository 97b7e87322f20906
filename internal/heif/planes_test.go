package heif

import (
	"bufio"
	"bytes"
	"crypto/md5"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func read(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// planes decodes the coded picture of a file, uncropped, and returns the bytes
// of its planes as the decoded picture hash of H.265 annex D takes them, the
// decoder, and the NAL units.
func planes(t testing.TB, file []byte) (raw [][]byte, d *picture, nals [][]byte) {
	t.Helper()
	c, err := readContainer(file)
	if err != nil {
		t.Fatal(err)
	}
	src, err := c.source()
	if err != nil {
		t.Fatal(err)
	}
	cfg, err := c.config(src.tile)
	if err != nil {
		t.Fatal(err)
	}
	data, err := c.data(src.tile)
	if err != nil {
		t.Fatal(err)
	}
	d = &picture{}
	if err := d.decode(cfg, data, 1<<20); err != nil {
		t.Fatal(err)
	}
	for i := range d.plane {
		pl := &d.plane[i]
		if pl.w == 0 {
			break
		}
		var b []byte
		for _, v := range pl.pix {
			b = append(b, byte(v))
			if d.sps.depth[i] > 8 {
				b = append(b, byte(v>>8))
			}
		}
		raw = append(raw, b)
	}
	for len(data) > 0 {
		n := 0
		for _, v := range data[:cfg.lengthSize] {
			n = n<<8 | int(v)
		}
		nals = append(nals, data[cfg.lengthSize:cfg.lengthSize+n])
		data = data[cfg.lengthSize+n:]
	}
	return raw, d, nals
}

// cropped keeps the conformance window, which is what libde265 hands out.
func cropped(d *picture, raw [][]byte) [][]byte {
	s := d.sps
	var out [][]byte
	for i, b := range raw {
		x0, x1, y0, y1 := s.cropLeft, s.width-s.cropRight, s.cropTop, s.height-s.cropBottom
		if i > 0 {
			x0, x1, y0, y1 = x0>>s.subX, x1>>s.subX, y0>>s.subY, y1>>s.subY
		}
		size := 1
		if s.depth[i] > 8 {
			size = 2
		}
		var c []byte
		for y := y0; y < y1; y++ {
			at := (y*d.plane[i].w + x0) * size
			c = append(c, b[at:at+(x1-x0)*size]...)
		}
		out = append(out, c)
	}
	return out
}

// TestPlanesEqualLibde265 holds every plane to what libde265 1.0.11 decodes,
// sample for sample; testdata/SOURCES.md says how the files were made.
func TestPlanesEqualLibde265(t *testing.T) {
	list := bufio.NewScanner(bytes.NewReader(read(t, "planes.txt")))
	n := 0
	for list.Scan() {
		f := strings.Fields(list.Text())
		n++
		t.Run(f[0], func(t *testing.T) {
			raw, d, _ := planes(t, read(t, f[0]))
			raw = cropped(d, raw)
			if len(raw) != len(f)-1 {
				t.Fatalf("%d planes, want %d", len(raw), len(f)-1)
			}
			for i, b := range raw {
				sum := md5.Sum(b)
				if got := hex.EncodeToString(sum[:]); got != f[1+i] {
					t.Errorf("plane %d has MD5 %s, want %s", i, got, f[1+i])
				}
			}
		})
	}
	if n < 30 {
		t.Errorf("only %d files are listed", n)
	}
}

// TestPlanesMatchTheEncodersHash compares with the MD5 that x265 3.5 wrote into
// the stream (H.265 clause D.3.19, decoded picture hash, hash_type 0).
func TestPlanesMatchTheEncodersHash(t *testing.T) {
	for _, name := range []string{
		"q30", "q60", "q90", "lossless", "lossless444", "grey", "s422", "s444", "s444lists", "ten", "twelve422",
		"slices", "ctu16", "offsets", "odd", "tile", "limited709",
	} {
		t.Run(name, func(t *testing.T) {
			raw, _, nals := planes(t, read(t, name+".heic"))
			found := false
			for _, nal := range nals {
				const suffixSEI, pictureHash = 40, 132
				if kind, _ := nalType(nal); kind != suffixSEI {
					continue
				}
				b := unescape(nal[2:])
				if b[0] != pictureHash || b[2] != 0 {
					continue
				}
				found = true
				for i, p := range raw {
					if got := md5.Sum(p); !bytes.Equal(got[:], b[3+16*i:][:16]) {
						t.Errorf("plane %d differs from the encoder's", i)
					}
				}
			}
			if !found {
				t.Error("the file holds no hash")
			}
		})
	}
}

// TestFilesUseEveryTool makes sure that the files compared above do exercise
// what they are there for.
func TestFilesUseEveryTool(t *testing.T) {
	names, err := filepath.Glob("testdata/*.heic")
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	for _, name := range names {
		_, d, nals := planes(t, read(t, filepath.Base(name)))
		s, p := d.sps, d.pps
		slices := 0
		for _, n := range nals {
			if k, _ := nalType(n); k >= nalFirstIRAP && k <= nalLastIRAP {
				slices++
			}
		}
		addresses, dependent, band, edge := map[int]bool{}, false, false, false
		for i, h := range d.slices {
			addresses[h.address] = true
			dependent = dependent || h.dependent
			for c := range 3 {
				band = band || d.offsets[i].kind[c] == saoBand
				edge = edge || d.offsets[i].kind[c] == saoEdge
			}
		}
		lists := s.scaling
		if p.scaling != nil {
			lists = p.scaling
		}
		for tool, on := range map[string]bool{
			"4:0:0": s.chroma == 0, "4:2:0": s.chroma == 1, "4:2:2": s.chroma == 2, "4:4:4": s.chroma == 3,
			"8 bits": s.depth[0] == 8, "10 bits": s.depth[0] == 10, "12 bits": s.depth[0] == 12,
			"PCM": s.pcm, "tiles": p.tiles, "wavefronts": p.wavefront, "slices": len(addresses) > 1,
			"several segments": slices > 1, "dependent slices": dependent, "transform skip": p.transformSkip,
			"QP changes": p.cuQPDelta, "lossless blocks": p.transquantBypass, "sign hiding": p.signHiding,
			"scaling lists": s.scalingEnabled, "own scaling lists": s.scalingEnabled && lists.factor[1][0][63] != 115 && lists.factor[1][0][63] != 16,
			"CTB 16": s.log2CTB == 4, "CTB 32": s.log2CTB == 5, "CTB 64": s.log2CTB == 6,
			"band offset": band, "edge offset": edge, "strong smoothing": s.strongSmoothing,
			"closed tiles": p.tiles && !p.loopAcrossTiles, "closed slices": len(addresses) > 1 && !d.slices[len(d.slices)-1].loopAcross,
			"kept samples": d.anyKeep, "no deblocking": d.slices[0].deblockDisabled, "deblocking": !d.slices[0].deblockDisabled,
			"wavefronts and dependent slices": p.wavefront && dependent, "tiles and dependent slices": p.tiles && dependent,
			"wavefronts one CTB wide":    p.wavefront && dependent && s.widthCTB == 1,
			"a slice that closes itself": p.loopAcrossSlices && !d.slices[len(d.slices)-1].loopAcross,
		} {
			used[tool] = used[tool] || on
			if _, ok := used[tool]; !ok {
				used[tool] = false
			}
		}
	}
	for tool, on := range used {
		if !on {
			t.Errorf("no file uses %s", tool)
		}
	}
}

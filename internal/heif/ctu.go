package heif

import (
	"errors"
	"fmt"
)

// plane is one component of a picture.
type plane struct {
	pix          []uint16
	stride, w, h int
}

// picture decodes one coded picture. Its maps are kept from one picture to the
// next of the same size, as the tiles of a photograph are.
type picture struct {
	sps    *sps
	pps    *pps
	layout *layout
	plane  [3]plane
	before []uint16 // a plane before sample adaptive offset

	// For each 4x4 block of luma, at a pitch of w4.
	w4   int
	mode []uint8 // luma intra mode
	qp   []int8
	edge []uint8 // edgeLeft, edgeTop
	keep []uint8 // 1 where loop filters may not change samples
	deep []uint8 // coding quadtree depth

	// For each CTB, by raster address.
	slices  []*sliceHeader // nil until decoded
	offsets []saoParams
	anyKeep bool
	done    int

	cabac     cabac
	segEnd    [numCtx]uint8 // contexts at the end of the last slice segment
	wavefront [numCtx]uint8 // contexts after the second CTB of the row above

	// The slice, CTB and coding unit being decoded.
	head         *sliceHeader
	ctb          int
	tile         int32
	qpY          int // of the coding unit
	qpPred       int // predicted for the quantisation group
	qpLast       int // of the last coding unit
	qpDelta      int
	qpDeltaCoded bool
	bypass       bool
	luma         [4]int // intra modes of the coding unit's parts
	chroma       [4]int
	maxDepth     int
	split4       bool // into four prediction parts
	cuX, cuY     int
	cuSize       int
	err          error

	ref, smoothed border
	coef          [1024]int32
}

const (
	edgeLeft = 1
	edgeTop  = 2
)

// begin prepares for a new picture.
func (d *picture) begin(s *sps, p *pps) error {
	l, err := newLayout(s, p)
	if err != nil {
		return err
	}
	d.sps, d.pps, d.layout = s, p, l
	for c := range d.plane {
		pl := &d.plane[c]
		w, h := s.width, s.height
		if c > 0 {
			w, h = w>>s.subX, h>>s.subY
			if s.chroma == 0 {
				w, h = 0, 0
			}
		}
		pl.w, pl.h, pl.stride = w, h, w
		pl.pix = resize(pl.pix, w*h)
	}
	d.w4 = (s.width + 3) / 4
	n := d.w4 * ((s.height + 3) / 4)
	d.mode = resize(d.mode, n)
	d.qp = resize(d.qp, n)
	d.edge = resize(d.edge, n)
	d.keep = resize(d.keep, n)
	d.deep = resize(d.deep, n)
	clear(d.edge)
	clear(d.keep)
	ctbs := s.widthCTB * s.heightCTB
	d.slices = resize(d.slices, ctbs)
	clear(d.slices)
	d.offsets = resize(d.offsets, ctbs)
	clear(d.offsets)
	d.anyKeep, d.done, d.head, d.err = false, 0, nil, nil
	return nil
}

func resize[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// available reports whether luma sample (x, y) is decoded before the block
// whose place in decoding order is cur, and may be used by it (clause 6.4.1).
func (d *picture) available(cur int32, x, y int) bool {
	if x < 0 || y < 0 || x >= d.sps.width || y >= d.sps.height {
		return false
	}
	if d.layout.order(x, y) > cur {
		return false
	}
	ctb := (y>>d.sps.log2CTB)*d.sps.widthCTB + x>>d.sps.log2CTB
	if ctb == d.ctb {
		return true
	}
	h := d.slices[ctb]
	return h != nil && h.address == d.head.address && d.layout.tile[ctb] == d.tile
}

// segment decodes the data of one slice segment (clause 7.3.8.1).
func (d *picture) segment(h *sliceHeader, data []byte) error {
	s, p, l, c := d.sps, d.pps, d.layout, &d.cabac
	d.head = h
	c.data = data
	c.start(0)
	ts := int(l.toTile[h.segment])
	begins := true
	for {
		rs := int(l.toRaster[ts])
		d.ctb, d.tile = rs, l.tile[rs]
		x, y := rs%s.widthCTB, rs/s.widthCTB
		if d.slices[rs] != nil {
			return fmt.Errorf("block %d is coded twice", rs)
		}
		d.slices[rs] = h
		firstInTile := ts == 0 || l.tile[l.toRaster[ts-1]] != d.tile
		firstInRow := p.wavefront && x == int(l.tileX0[rs])
		if begins || firstInTile || firstInRow {
			d.startContexts(begins, firstInTile, firstInRow, x, y)
		}
		if begins && !h.dependent || firstInTile || firstInRow {
			d.qpLast = h.qp
		}
		begins = false
		if h.saoLuma || h.saoChroma {
			d.readSAO(x, y)
		}
		d.quadtree(x<<s.log2CTB, y<<s.log2CTB, s.log2CTB, 0)
		if d.err != nil {
			return d.err
		}
		if c.overrun() {
			return errShort
		}
		d.done++
		if p.wavefront && x == int(l.tileX0[rs])+1 {
			d.wavefront = c.ctx
		}
		if c.terminate() {
			break
		}
		ts++
		if ts >= len(l.toRaster) {
			return errors.New("slice runs past the end of the picture")
		}
		next := int(l.toRaster[ts])
		if l.tile[next] != d.tile || p.wavefront && next%s.widthCTB == int(l.tileX0[next]) {
			if !c.terminate() {
				return errors.New("substream does not end where it should")
			}
			c.start(c.bytePos())
		}
	}
	d.segEnd = c.ctx
	return nil
}

// startContexts sets the contexts at the start of a slice segment, a tile or,
// with wavefronts, a row of CTBs (clause 9.3.1).
func (d *picture) startContexts(begins, firstInTile, firstInRow bool, x, y int) {
	c := &d.cabac
	switch {
	case firstInTile:
		c.initContexts(d.head.qp)
		return
	case firstInRow:
		cur := d.layout.order(x<<d.sps.log2CTB, y<<d.sps.log2CTB)
		if d.available(cur, (x+1)<<d.sps.log2CTB, (y-1)<<d.sps.log2CTB) {
			c.ctx = d.wavefront
			return
		}
	}
	// In a tile one CTB wide every row begins anew with wavefronts.
	narrow := d.pps.wavefront && d.layout.tileX1[d.ctb]-d.layout.tileX0[d.ctb] == 1
	if begins && d.head.dependent && !narrow {
		c.ctx = d.segEnd
	} else {
		c.initContexts(d.head.qp)
	}
}

// quadtree decodes a coding quadtree (clause 7.3.8.4).
func (d *picture) quadtree(x, y, log2, depth int) {
	s, c := d.sps, &d.cabac
	if d.err != nil {
		return
	}
	size := 1 << log2
	split := log2 > s.log2MinCB
	if split && x+size <= s.width && y+size <= s.height {
		i := ctxSplitCU
		cur := d.layout.order(x, y)
		if d.available(cur, x-1, y) && int(d.deep[y>>2*d.w4+(x-1)>>2]) > depth {
			i++
		}
		if d.available(cur, x, y-1) && int(d.deep[(y-1)>>2*d.w4+x>>2]) > depth {
			i++
		}
		split = c.bin(i) == 1
	}
	if d.pps.cuQPDelta && log2 >= s.log2CTB-d.pps.diffCuQPDeltaDepth {
		d.qpDeltaCoded, d.qpDelta = false, 0
	}
	if log2 >= s.log2CTB-d.pps.diffCuQPDeltaDepth {
		d.startGroup(x, y)
	}
	if !split {
		d.codingUnit(x, y, log2, depth)
		return
	}
	half := size >> 1
	for i := range 4 {
		cx, cy := x+i&1*half, y+i>>1*half
		if cx < s.width && cy < s.height {
			d.quadtree(cx, cy, log2-1, depth+1)
		}
	}
}

// fill sets a map over a square of luma samples.
func fill[T any](m []T, w4, x, y, size int, v T) {
	n := size >> 2
	for i := range n {
		at := (y>>2+i)*w4 + x>>2
		row := m[at : at+n]
		for j := range row {
			row[j] = v
		}
	}
}

// codingUnit decodes a coding unit (clause 7.3.8.5).
func (d *picture) codingUnit(x, y, log2, depth int) {
	s, c := d.sps, &d.cabac
	size := 1 << log2
	fill(d.deep, d.w4, x, y, size, uint8(depth))
	d.bypass = d.pps.transquantBypass && c.bin(ctxBypass) == 1
	parts := 1
	if log2 == s.log2MinCB && c.bin(ctxPartMode) == 0 {
		parts = 4
	}
	keep := d.bypass
	if parts == 1 && s.pcm && log2 >= s.log2MinPCM && log2 <= s.log2MaxPCM && c.terminate() {
		d.readPCM(x, y, log2)
		fill(d.mode, d.w4, x, y, size, modeDC)
		d.markEdges(x, y, log2)
		keep = keep || s.pcmNoLoopFilter
	} else {
		d.readModes(x, y, log2, parts)
		d.maxDepth = s.maxTransformDepthIntra
		if parts == 4 {
			d.maxDepth++
		}
		d.cuX, d.cuY, d.cuSize, d.split4 = x, y, size, parts == 4
		d.transformTree(x, y, x, y, log2, 0, [3]int{})
	}
	if keep {
		fill(d.keep, d.w4, x, y, size, 1)
		d.anyKeep = true
	}
	fill(d.qp, d.w4, x, y, size, int8(d.qpY))
	d.qpLast = d.qpY
}

func (d *picture) readPCM(x, y, log2 int) {
	c := &d.cabac
	r := &bitReader{b: c.data, pos: 8 * c.bytePos()}
	for i := range d.plane {
		pl := &d.plane[i]
		if pl.w == 0 {
			break
		}
		px, py, w, h := x, y, 1<<log2, 1<<log2
		if i > 0 {
			px, py = x>>d.sps.subX, y>>d.sps.subY
			w, h = w>>d.sps.subX, h>>d.sps.subY
		}
		shift := d.sps.depth[i] - d.sps.pcmDepth[i]
		for j := range h {
			row := pl.pix[(py+j)*pl.stride+px:][:w]
			for k := range row {
				row[k] = uint16(r.u(d.sps.pcmDepth[i]) << shift)
			}
		}
	}
	if r.over {
		d.err = errShort
	}
	c.start((r.pos + 7) / 8)
}

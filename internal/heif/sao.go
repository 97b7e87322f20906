package heif

// saoParams is the sample adaptive offset of one CTB, per component.
type saoParams struct {
	kind   [3]uint8 // 0 none, 1 band, 2 edge
	class  [3]uint8 // band position, or direction of the edge
	offset [3][4]int16
}

const (
	saoBand = 1
	saoEdge = 2
)

// readSAO reads the offsets of the CTB at column x and row y (clause 7.3.8.3).
func (d *picture) readSAO(x, y int) {
	c := &d.cabac
	w := d.sps.widthCTB
	own := &d.offsets[d.ctb]
	for _, n := range []struct {
		inside bool
		ctb    int
	}{{x > 0, d.ctb - 1}, {y > 0, d.ctb - w}} {
		if !n.inside || d.slices[n.ctb] == nil || d.slices[n.ctb].address != d.head.address || d.layout.tile[n.ctb] != d.tile {
			continue
		}
		if c.bin(ctxSAOMerge) == 1 {
			*own = d.offsets[n.ctb]
			return
		}
	}
	*own = saoParams{}
	for i := range 3 {
		if i == 0 && !d.head.saoLuma || i > 0 && !d.head.saoChroma {
			continue
		}
		if i == 2 {
			own.kind[2], own.class[2] = own.kind[1], own.class[1]
		} else if c.bin(ctxSAOType) == 1 {
			own.kind[i] = uint8(1 + c.bypass())
		}
		if own.kind[i] == 0 {
			continue
		}
		most := 1<<(min(d.sps.depth[i], 10)-5) - 1
		var v [4]int
		for k := range v {
			for v[k] < most && c.bypass() == 1 {
				v[k]++
			}
		}
		if own.kind[i] == saoBand {
			for k := range v {
				if v[k] != 0 && c.bypass() == 1 {
					v[k] = -v[k]
				}
			}
			own.class[i] = uint8(c.bypassBits(5))
		} else {
			v[2], v[3] = -v[2], -v[3]
			if i < 2 {
				own.class[i] = uint8(c.bypassBits(2))
			}
		}
		for k := range v {
			own.offset[i][k] = int16(v[k])
		}
	}
}

// adaptiveOffset applies the offsets to the deblocked picture (clause 8.7.3).
func (d *picture) adaptiveOffset() {
	for c := range d.plane {
		used := false
		for i := range d.offsets {
			if d.offsets[i].kind[c] != 0 {
				used = true
				break
			}
		}
		if !used {
			continue
		}
		pl := &d.plane[c]
		d.before = resize(d.before, len(pl.pix))
		copy(d.before, pl.pix)
		for i := range d.offsets {
			switch d.offsets[i].kind[c] {
			case saoBand:
				d.bandOffset(c, i)
			case saoEdge:
				d.edgeOffset(c, i)
			default:
				continue
			}
			if d.anyKeep {
				d.restore(c, i)
			}
		}
	}
}

// area is the part of a plane that a CTB covers.
func (d *picture) area(c, ctb int) (x0, y0, x1, y1 int) {
	s, pl := d.sps, &d.plane[c]
	w, h := s.ctbSize, s.ctbSize
	if c > 0 {
		w, h = w>>s.subX, h>>s.subY
	}
	x0, y0 = ctb%s.widthCTB*w, ctb/s.widthCTB*h
	return x0, y0, min(x0+w, pl.w), min(y0+h, pl.h)
}

func (d *picture) bandOffset(c, ctb int) {
	o := &d.offsets[ctb]
	depth := d.sps.depth[c]
	var table [32]int32
	for k, v := range o.offset[c] {
		table[(int(o.class[c])+k)&31] = int32(v)
	}
	most := int32(1)<<depth - 1
	pl := &d.plane[c]
	x0, y0, x1, y1 := d.area(c, ctb)
	for y := y0; y < y1; y++ {
		row := pl.pix[y*pl.stride+x0 : y*pl.stride+x1]
		for i, v := range row {
			row[i] = uint16(min(max(int32(v)+table[v>>(depth-5)&31], 0), most))
		}
	}
}

func (d *picture) edgeOffset(c, ctb int) {
	o := &d.offsets[ctb]
	pl := &d.plane[c]
	x0, y0, x1, y1 := d.area(c, ctb)
	dir := [4]struct{ x, y int }{{1, 0}, {0, 1}, {1, 1}, {-1, 1}}[o.class[c]&3]
	step := dir.y*pl.stride + dir.x
	// By 2 + sign + sign: a valley, a concave corner, flat, a convex corner, a peak.
	table := [5]int32{int32(o.offset[c][0]), int32(o.offset[c][1]), 0, int32(o.offset[c][2]), int32(o.offset[c][3])}
	most := int32(1)<<d.sps.depth[c] - 1
	// Whether each neighbouring CTB's samples may be looked at, by 3*(y+1)+x+1.
	var open [9]bool
	for k := range open {
		open[k] = d.saoOpen(ctb, k%3-1, k/3-1)
	}
	src := d.before
	for y := y0; y < y1; y++ {
		rim := dir.y == 1 && (y == y0 || y == y1-1)
		for x := x0; x < x1; x++ {
			if rim || x == x0 || x == x1-1 {
				// Samples a and b lie before and after along the direction.
				if !openAt(&open, x-dir.x, y-dir.y, x0, y0, x1, y1) || !openAt(&open, x+dir.x, y+dir.y, x0, y0, x1, y1) {
					continue
				}
			}
			at := y*pl.stride + x
			v, a, b := int32(src[at]), int32(src[at-step]), int32(src[at+step])
			k := 2
			if v < a {
				k--
			} else if v > a {
				k++
			}
			if v < b {
				k--
			} else if v > b {
				k++
			}
			pl.pix[at] = uint16(min(max(v+table[k], 0), most))
		}
	}
}

func openAt(open *[9]bool, x, y, x0, y0, x1, y1 int) bool {
	k := 4
	switch {
	case x < x0:
		k--
	case x >= x1:
		k++
	}
	switch {
	case y < y0:
		k -= 3
	case y >= y1:
		k += 3
	}
	return open[k]
}

// saoOpen reports whether the offset of a CTB may depend on the samples of the
// one dx to the right and dy below.
func (d *picture) saoOpen(ctb, dx, dy int) bool {
	w := d.sps.widthCTB
	x, y := ctb%w+dx, ctb/w+dy
	if x < 0 || y < 0 || x >= w || y >= d.sps.heightCTB {
		return false
	}
	other := y*w + x
	a, b := d.slices[ctb], d.slices[other]
	if a.address != b.address {
		later := a
		if d.layout.toTile[other] > d.layout.toTile[ctb] {
			later = b
		}
		if !later.loopAcross {
			return false
		}
	}
	return d.pps.loopAcrossTiles || d.layout.tile[other] == d.layout.tile[ctb]
}

// restore puts back the samples of a CTB that loop filters may not change.
func (d *picture) restore(c, ctb int) {
	s, pl := d.sps, &d.plane[c]
	subX, subY := 0, 0
	if c > 0 {
		subX, subY = s.subX, s.subY
	}
	x0, y0, x1, y1 := d.area(c, ctb)
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			if d.keep[y<<subY>>2*d.w4+x<<subX>>2] != 0 {
				pl.pix[y*pl.stride+x] = d.before[y*pl.stride+x]
			}
		}
	}
}

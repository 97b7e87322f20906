package heif

// readModes reads the intra prediction modes of a coding unit and derives them
// from the neighbours' (clauses 7.3.8.5, 8.4.2 and 8.4.3).
func (d *picture) readModes(x, y, log2, parts int) {
	c := &d.cabac
	var known [4]bool
	for i := range parts {
		known[i] = c.bin(ctxPrevIntra) == 1
	}
	size := 1 << log2
	if parts == 4 {
		size >>= 1
	}
	for i := range parts {
		px, py := x+i&1*size, y+i>>1*size
		cand := d.likelyModes(px, py)
		var m int
		if known[i] {
			k := 0
			if c.bypass() == 1 {
				k = 1 + c.bypass()
			}
			m = cand[k]
		} else {
			m = c.bypassBits(5)
			if cand[0] > cand[1] {
				cand[0], cand[1] = cand[1], cand[0]
			}
			if cand[0] > cand[2] {
				cand[0], cand[2] = cand[2], cand[0]
			}
			if cand[1] > cand[2] {
				cand[1], cand[2] = cand[2], cand[1]
			}
			for _, v := range cand {
				if m >= v {
					m++
				}
			}
		}
		d.luma[i] = m
		fill(d.mode, d.w4, px, py, size, uint8(m))
	}
	if d.sps.chroma == 0 {
		return
	}
	n := 1
	if d.sps.chroma == 3 {
		n = parts
	}
	for i := range n {
		m := d.luma[i]
		if c.bin(ctxChromaMode) == 1 {
			m = [4]int{modePlanar, modeVertical, modeHorizontal, modeDC}[c.bypassBits(2)]
			if m == d.luma[i] {
				m = 34
			}
		}
		if d.sps.chroma == 2 {
			m = int(mode422[m])
		}
		d.chroma[i] = m
	}
}

// mode422 turns a direction for square chroma samples into that for 4:2:2's
// (table 8-3 of the edition of 12/2016).
var mode422 = [35]uint8{
	0, 1, 2, 2, 2, 2, 3, 5, 7, 8, 10, 12, 13, 15, 17, 18, 19, 20,
	21, 22, 23, 23, 24, 24, 25, 25, 26, 27, 27, 28, 28, 29, 29, 30, 31,
}

// likelyModes are the three modes held most probable at (x, y).
func (d *picture) likelyModes(x, y int) [3]int {
	cur := d.layout.order(x, y)
	a, b := modeDC, modeDC
	if d.available(cur, x-1, y) {
		a = int(d.mode[y>>2*d.w4+(x-1)>>2])
	}
	// The row of CTBs above counts as DC, so that its modes need not be kept.
	if y&(d.sps.ctbSize-1) != 0 && d.available(cur, x, y-1) {
		b = int(d.mode[(y-1)>>2*d.w4+x>>2])
	}
	switch {
	case a == b && a < 2:
		return [3]int{modePlanar, modeDC, modeVertical}
	case a == b:
		return [3]int{a, 2 + (a+29)%32, 2 + (a-1)%32}
	case a != modePlanar && b != modePlanar:
		return [3]int{a, b, modePlanar}
	case a != modeDC && b != modeDC:
		return [3]int{a, b, modeDC}
	}
	return [3]int{a, b, modeVertical}
}

package heif

// markEdges notes the left and top edge of a transform block for deblocking,
// where its slice lets them be filtered (clause 8.7.2.3). Every block being
// intra, each such edge has boundary strength 2.
func (d *picture) markEdges(x, y, log2 int) {
	if d.head.deblockDisabled {
		return
	}
	n := 1 << (log2 - 2)
	at := y>>2*d.w4 + x>>2
	if x&7 == 0 && d.edgeOpen(x, y, x-1, y) {
		for i := range n {
			d.edge[at+i*d.w4] |= edgeLeft
		}
	}
	if y&7 == 0 && d.edgeOpen(x, y, x, y-1) {
		for i := range n {
			d.edge[at+i] |= edgeTop
		}
	}
}

// edgeOpen reports whether the edge between a block at (x, y) and the
// neighbour before it, holding (nx, ny), may be filtered.
func (d *picture) edgeOpen(x, y, nx, ny int) bool {
	if nx < 0 || ny < 0 {
		return false
	}
	ctb := (ny>>d.sps.log2CTB)*d.sps.widthCTB + nx>>d.sps.log2CTB
	if ctb == d.ctb {
		return true
	}
	if !d.head.loopAcross {
		if h := d.slices[ctb]; h == nil || h.address != d.head.address {
			return false
		}
	}
	return d.pps.loopAcrossTiles || d.layout.tile[ctb] == d.tile
}

// tcTable and betaTable are H.265 table 8-12.
var tcTable = [54]int32{
	18: 1, 1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4,
	5, 5, 6, 6, 7, 8, 9, 10, 11, 13, 14, 16, 18, 20, 22, 24,
}

var betaTable = [52]int32{
	16: 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 20, 22, 24, 26, 28, 30, 32, 34, 36, 38,
	40, 42, 44, 46, 48, 50, 52, 54, 56, 58, 60, 62, 64,
}

// deblock filters the block edges of the whole picture, first those that stand
// and then those that lie (clause 8.7.2).
func (d *picture) deblock() {
	d.deblockEdges(edgeLeft)
	d.deblockEdges(edgeTop)
}

func (d *picture) deblockEdges(which uint8) {
	s := d.sps
	dx, dy := 1, 0 // from an edge's unit to the one before it
	if which == edgeTop {
		dx, dy = 0, 1
	}
	toCTB := s.log2CTB - 2
	for y4 := range s.height >> 2 {
		row := d.edge[y4*d.w4:][:d.w4]
		for x4, e := range row {
			if e&which == 0 {
				continue
			}
			at := y4*d.w4 + x4
			prev := at - dx - dy*d.w4
			h := d.slices[(y4>>toCTB)*s.widthCTB+x4>>toCTB]
			qp := (int(d.qp[at]) + int(d.qp[prev]) + 1) >> 1
			keepP, keepQ := d.keep[prev] != 0, d.keep[at] != 0
			d.lumaEdge(x4<<2, y4<<2, dx, dy, qp, h, keepP, keepQ)
			if s.chroma == 0 {
				continue
			}
			// Chroma edges lie on a grid of 8 by 8 chroma samples.
			if dx == 1 && (x4<<2>>s.subX)&7 != 0 || dy == 1 && (y4<<2>>s.subY)&7 != 0 {
				continue
			}
			for c := 1; c < 3; c++ {
				q := min(max(s.chromaIndex(qp+d.pps.qpOffset[c])+2+h.tc, 0), 53)
				tc := tcTable[q] << (s.depth[c] - 8)
				if tc != 0 {
					d.chromaEdge(c, x4<<2>>s.subX, y4<<2>>s.subY, dx, dy, tc, keepP, keepQ)
				}
			}
		}
	}
}

// lumaEdge filters four samples' length of an edge (clauses 8.7.2.5.3, .6, .7).
func (d *picture) lumaEdge(x, y, dx, dy, qp int, h *sliceHeader, keepP, keepQ bool) {
	depth := d.sps.depth[0]
	beta := betaTable[min(max(qp+h.beta, 0), 51)] << (depth - 8)
	tc := tcTable[min(max(qp+2+h.tc, 0), 53)] << (depth - 8)
	pl := &d.plane[0]
	across, along := 1, pl.stride
	if dy == 1 {
		across, along = along, across
	}
	at := y*pl.stride + x
	pix := pl.pix[at-4*across : at+3*along+3*across+1]
	// Sample q(i) of line k lies at 4*across + i*across + k*along.
	sample := func(k, i int) int32 { return int32(pix[(4+i)*across+k*along]) }
	var dp, dq [2]int32
	for j, k := range [2]int{0, 3} {
		dp[j] = abs(sample(k, -3) - 2*sample(k, -2) + sample(k, -1))
		dq[j] = abs(sample(k, 2) - 2*sample(k, 1) + sample(k, 0))
	}
	if dp[0]+dq[0]+dp[1]+dq[1] >= beta {
		return
	}
	strong := true
	for j, k := range [2]int{0, 3} {
		p0, q0 := sample(k, -1), sample(k, 0)
		if 2*(dp[j]+dq[j]) >= beta>>2 ||
			abs(sample(k, -4)-p0)+abs(q0-sample(k, 3)) >= beta>>3 ||
			abs(p0-q0) >= (5*tc+1)>>1 {
			strong = false
		}
	}
	most := int32(1)<<depth - 1
	if strong {
		for k := range 4 {
			o := 4*across + k*along
			p3, p2, p1, p0 := int32(pix[o-4*across]), int32(pix[o-3*across]), int32(pix[o-2*across]), int32(pix[o-across])
			q0, q1, q2, q3 := int32(pix[o]), int32(pix[o+across]), int32(pix[o+2*across]), int32(pix[o+3*across])
			if !keepP {
				pix[o-across] = near(p0, (p2+2*p1+2*p0+2*q0+q1+4)>>3, 2*tc)
				pix[o-2*across] = near(p1, (p2+p1+p0+q0+2)>>2, 2*tc)
				pix[o-3*across] = near(p2, (2*p3+3*p2+p1+p0+q0+4)>>3, 2*tc)
			}
			if !keepQ {
				pix[o] = near(q0, (p1+2*p0+2*q0+2*q1+q2+4)>>3, 2*tc)
				pix[o+across] = near(q1, (p0+q0+q1+q2+2)>>2, 2*tc)
				pix[o+2*across] = near(q2, (p0+q0+q1+3*q2+2*q3+4)>>3, 2*tc)
			}
		}
		return
	}
	side, half := (beta+beta>>1)>>3, tc>>1
	sideP, sideQ := dp[0]+dp[1] < side, dq[0]+dq[1] < side
	for k := range 4 {
		o := 4*across + k*along
		p2, p1, p0 := int32(pix[o-3*across]), int32(pix[o-2*across]), int32(pix[o-across])
		q0, q1, q2 := int32(pix[o]), int32(pix[o+across]), int32(pix[o+2*across])
		delta := (9*(q0-p0) - 3*(q1-p1) + 8) >> 4
		if abs(delta) >= 10*tc {
			continue
		}
		delta = min(max(delta, -tc), tc)
		if !keepP {
			pix[o-across] = uint16(min(max(p0+delta, 0), most))
			if sideP {
				v := min(max(((p2+p0+1)>>1-p1+delta)>>1, -half), half)
				pix[o-2*across] = uint16(min(max(p1+v, 0), most))
			}
		}
		if !keepQ {
			pix[o] = uint16(min(max(q0-delta, 0), most))
			if sideQ {
				v := min(max(((q2+q0+1)>>1-q1-delta)>>1, -half), half)
				pix[o+across] = uint16(min(max(q1+v, 0), most))
			}
		}
	}
}

// near keeps a filtered sample within reach of the one it replaces.
func near(old, v, reach int32) uint16 { return uint16(min(max(v, old-reach), old+reach)) }

// chromaEdge filters one unit's length of a chroma edge (clause 8.7.2.5.8).
func (d *picture) chromaEdge(c, x, y, dx, dy int, tc int32, keepP, keepQ bool) {
	pl := &d.plane[c]
	across, along, n := 1, pl.stride, 4>>d.sps.subY
	if dy == 1 {
		across, along, n = pl.stride, 1, 4>>d.sps.subX
	}
	most := int32(1)<<d.sps.depth[c] - 1
	at := y*pl.stride + x
	for range n {
		p1, p0 := int32(pl.pix[at-2*across]), int32(pl.pix[at-across])
		q0, q1 := int32(pl.pix[at]), int32(pl.pix[at+across])
		delta := min(max(((q0-p0)<<2+p1-q1+4)>>3, -tc), tc)
		if !keepP {
			pl.pix[at-across] = uint16(min(max(p0+delta, 0), most))
		}
		if !keepQ {
			pl.pix[at] = uint16(min(max(q0-delta, 0), most))
		}
		at += along
	}
}

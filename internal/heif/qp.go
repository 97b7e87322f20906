package heif

import "errors"

// startGroup predicts the luma QP of a quantisation group (clause 8.6.1). The
// groups inside a larger quadtree node begin anew, so the last call stands.
func (d *picture) startGroup(x, y int) {
	mask := d.sps.ctbSize - 1
	a, b := d.qpLast, d.qpLast
	if x&mask > 0 {
		a = int(d.qp[y>>2*d.w4+(x-1)>>2])
	}
	if y&mask > 0 {
		b = int(d.qp[(y-1)>>2*d.w4+x>>2])
	}
	d.qpPred = (a + b + 1) >> 1
	d.qpDelta = 0
	d.setQP()
}

func (d *picture) setQP() {
	off := 6 * (d.sps.depth[0] - 8)
	d.qpY = (d.qpPred+d.qpDelta+52+2*off)%(52+off) - off
}

// readQPDelta reads cu_qp_delta_abs and its sign (clause 7.3.8.14).
func (d *picture) readQPDelta() {
	c := &d.cabac
	v := 0
	for v < 5 {
		i := ctxQPDelta
		if v > 0 {
			i++
		}
		if c.bin(i) == 0 {
			break
		}
		v++
	}
	if v == 5 {
		k := 0
		for k < 7 && c.bypass() == 1 {
			v += 1 << k
			k++
		}
		v += c.bypassBits(k)
	}
	if v != 0 && c.bypass() == 1 {
		v = -v
	}
	off := 6 * (d.sps.depth[0] - 8)
	if v < -26-off/2 || v > 25+off/2 {
		d.err = errors.New("change of QP outside the standard")
		return
	}
	d.qpDelta, d.qpDeltaCoded = v, true
	d.setQP()
}

// chromaQP is table 8-10, for 4:2:0 from index 30 to 43.
var chromaQP = [14]int{29, 30, 31, 32, 33, 33, 34, 34, 35, 35, 36, 36, 37, 37}

// chromaIndex turns a luma QP with its offset into a chroma QP.
func (s *sps) chromaIndex(q int) int {
	switch {
	case s.chroma != 1:
		return min(q, 51)
	case q < 30:
		return q
	case q > 43:
		return q - 6
	}
	return chromaQP[q-30]
}

// quantiser is the QP at which a component's coefficients are scaled: Qp' of
// clause 8.6.1.
func (d *picture) quantiser(c int) int {
	off := 6 * (d.sps.depth[c] - 8)
	if c == 0 {
		return d.qpY + off
	}
	q := min(max(d.qpY+d.pps.qpOffset[c]+d.head.qpOffset[c], -off), 57)
	return d.sps.chromaIndex(q) + off
}

// levelScale is the quantiser's step, times 64, for QP modulo 6 (clause 8.6.4.1).
var levelScale = [6]int64{40, 45, 51, 57, 64, 72}

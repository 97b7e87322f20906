package heif

// bitReader reads a raw byte sequence payload, most significant bit first.
// Reading past the end gives zeros and sets over, so that a parser need look
// at the end only once.
type bitReader struct {
	b    []byte
	pos  int // in bits
	over bool
}

func (r *bitReader) u(n int) uint32 {
	var v uint32
	for ; n > 0; n-- {
		v <<= 1
		if i := r.pos >> 3; i < len(r.b) {
			v |= uint32(r.b[i]>>(7-r.pos&7)) & 1
		} else {
			r.over = true
		}
		r.pos++
	}
	return v
}

func (r *bitReader) flag() bool { return r.u(1) == 1 }

func (r *bitReader) skip(n int) {
	r.pos += n
	if r.pos > 8*len(r.b) {
		r.over = true
	}
}

// ue reads an unsigned Exp-Golomb code (H.265 clause 9.2).
func (r *bitReader) ue() uint32 {
	zeros := 0
	for !r.flag() {
		zeros++
		if zeros > 31 || r.over {
			r.over = true
			return 0
		}
	}
	return 1<<zeros - 1 + r.u(zeros)
}

// se reads a signed Exp-Golomb code (H.265 clause 9.2.2).
func (r *bitReader) se() int32 {
	k := r.ue()
	if k&1 == 1 {
		return int32(k>>1) + 1
	}
	return -int32(k >> 1)
}

// unescape takes the emulation prevention bytes out of a NAL unit
// (H.265 clause 7.4.2: 0x03 after two zero bytes).
func unescape(nal []byte) []byte {
	out := make([]byte, 0, len(nal))
	zeros := 0
	for _, v := range nal {
		if zeros >= 2 && v == 3 {
			zeros = 0
			continue
		}
		if v == 0 {
			zeros++
		} else {
			zeros = 0
		}
		out = append(out, v)
	}
	return out
}

package jpeg

// block holds the 8 x 8 coefficients of a block, row by row, times their quantisers.
type block struct {
	v       [64]int32
	columns uint8 // those that hold a value besides the first of all
}

// Constants of the transform, 13 bits behind the point.
const (
	point = 13
	c0298 = 2446
	c0390 = 3196
	c0541 = 4433
	c0765 = 6270
	c0899 = 7373
	c1175 = 9633
	c1501 = 12299
	c1847 = 15137
	c1961 = 16069
	c2053 = 16819
	c2562 = 20995
	c3072 = 25172
)

// inverse writes the samples of the block: the inverse cosine transform (T.81
// A.3.3) by the way of Loeffler, Ligtenberg & Moschytz (1989, ICASSP: 988-991) in
// integers, first along columns and then along rows, within 1 of exact arithmetic
// rounded.
func (b *block) inverse(dst []uint8, stride int) {
	if b.columns == 0 {
		v := sample(int64(b.v[0])<<15 + 1<<17 + 128<<18)
		for y := range 8 {
			row := dst[y*stride : y*stride+8 : y*stride+8]
			for x := range row {
				row[x] = v
			}
		}
		return
	}
	const extra = 2 // bits kept between the passes
	var w [64]int32
	for x := range 8 {
		if b.columns>>x&1 == 0 { // but for the first column, all zero
			v := b.v[x] << extra
			for y := range 8 {
				w[8*y+x] = v
			}
			continue
		}
		e0, e1, e2, e3, o0, o1, o2, o3 := butterfly(b.v[x], b.v[8+x], b.v[16+x], b.v[24+x], b.v[32+x], b.v[40+x], b.v[48+x], b.v[56+x])
		const half, drop = 1 << (point - extra - 1), point - extra
		w[x], w[56+x] = (e0+o3+half)>>drop, (e0-o3+half)>>drop
		w[8+x], w[48+x] = (e1+o2+half)>>drop, (e1-o2+half)>>drop
		w[16+x], w[40+x] = (e2+o1+half)>>drop, (e2-o1+half)>>drop
		w[24+x], w[32+x] = (e3+o0+half)>>drop, (e3-o0+half)>>drop
	}
	for y := range 8 {
		r := w[8*y : 8*y+8 : 8*y+8]
		row := dst[y*stride : y*stride+8 : y*stride+8]
		e0, e1, e2, e3, o0, o1, o2, o3 := butterfly(r[0], r[1], r[2], r[3], r[4], r[5], r[6], r[7])
		const half, drop = 1<<(point+extra+2) + 128<<(point+extra+3), point + extra + 3
		e0 += half
		e1 += half
		e2 += half
		e3 += half
		row[0], row[7] = clamp((e0+o3)>>drop), clamp((e0-o3)>>drop)
		row[1], row[6] = clamp((e1+o2)>>drop), clamp((e1-o2)>>drop)
		row[2], row[5] = clamp((e2+o1)>>drop), clamp((e2-o1)>>drop)
		row[3], row[4] = clamp((e3+o0)>>drop), clamp((e3-o0)>>drop)
	}
}

// butterfly transforms 8 values without their last additions: sample i is e(i)
// plus o(3-i), sample 7-i the same less it.
func butterfly(v0, v1, v2, v3, v4, v5, v6, v7 int32) (e0, e1, e2, e3, o0, o1, o2, o3 int32) {
	z := (v2 + v6) * c0541
	t2, t3 := z-v6*c1847, z+v2*c0765
	t0, t1 := (v0+v4)<<point, (v0-v4)<<point
	e0, e3, e1, e2 = t0+t3, t0-t3, t1+t2, t1-t2

	z1, z2, z3, z4 := v7+v1, v5+v3, v7+v3, v5+v1
	z5 := (z3 + z4) * c1175
	z1 *= -c0899
	z2 *= -c2562
	z3 = z5 - z3*c1961
	z4 = z5 - z4*c0390
	o0 = v7*c0298 + z1 + z3
	o1 = v5*c2053 + z2 + z4
	o2 = v3*c3072 + z2 + z3
	o3 = v1*c1501 + z1 + z4
	return
}

// sample is a value with 18 bits behind the point as a sample.
func sample(v int64) uint8 { return uint8(max(0, min(255, v>>18))) }

func clamp(v int32) uint8 {
	if uint32(v) > 255 {
		return uint8(^(v >> 31))
	}
	return uint8(v)
}

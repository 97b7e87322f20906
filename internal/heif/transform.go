package heif

// dctMatrix is the 32-point transform matrix of H.265 clause 8.6.4.2: row k is
// the k-th basis function. Its entries are the cosines of the 32 angles below,
// rounded by the standard by hand.
var dctMatrix = makeDCT()

func makeDCT() (m [32][32]int32) {
	cosine := [33]int32{
		64, 90, 90, 90, 89, 88, 87, 85, 83, 82, 80, 78, 75, 73, 70, 67, 64,
		61, 57, 54, 50, 46, 43, 38, 36, 31, 25, 22, 18, 13, 9, 4, 0,
	}
	for k := range 32 {
		for i := range 32 {
			a := (2*i + 1) * k % 128
			if a > 64 {
				a = 128 - a
			}
			if a > 32 {
				m[k][i] = -cosine[64-a]
			} else {
				m[k][i] = cosine[a]
			}
		}
	}
	return m
}

// oddRows holds, for each log2 size, the half of each odd basis function that
// the other half mirrors with its sign changed.
var (
	odd4  [2][2]int32
	odd8  [4][4]int32
	odd16 [8][8]int32
	odd32 [16][16]int32
)

func init() {
	for k := range 16 {
		for i := range 16 {
			odd32[k][i] = dctMatrix[2*k+1][i]
			if k < 8 && i < 8 {
				odd16[k][i] = dctMatrix[4*k+2][i]
			}
			if k < 4 && i < 4 {
				odd8[k][i] = dctMatrix[8*k+4][i]
			}
			if k < 2 && i < 2 {
				odd4[k][i] = dctMatrix[16*k+8][i]
			}
		}
	}
}

// The inverse transforms below split into even and odd basis functions. s holds
// the coefficients, those above index last being zero; step is the distance
// between them, so that the even half is the same array read at twice the step.

func idct4(s *[32]int32, step, last int, out *[4]int32) {
	e0, e1 := 64*s[0], 64*s[0]
	if i := 2 * step; i <= last {
		e0 += 64 * s[i&31]
		e1 -= 64 * s[i&31]
	}
	var o0, o1 int32
	if i := step; i <= last {
		c := s[i&31]
		o0, o1 = odd4[0][0]*c, odd4[0][1]*c
		if i = 3 * step; i <= last {
			c := s[i&31]
			o0 += odd4[1][0] * c
			o1 += odd4[1][1] * c
		}
	}
	out[0], out[3] = e0+o0, e0-o0
	out[1], out[2] = e1+o1, e1-o1
}

func idct8(s *[32]int32, step, last int, out *[8]int32) {
	var e, o [4]int32
	idct4(s, 2*step, last, &e)
	for k, i := 0, step; i <= last && k < 4; k, i = k+1, i+2*step {
		if c := s[i&31]; c != 0 {
			w := &odd8[k]
			o[0] += w[0] * c
			o[1] += w[1] * c
			o[2] += w[2] * c
			o[3] += w[3] * c
		}
	}
	for i := range 4 {
		out[i], out[7-i] = e[i]+o[i], e[i]-o[i]
	}
}

func idct16(s *[32]int32, step, last int, out *[16]int32) {
	var e, o [8]int32
	idct8(s, 2*step, last, &e)
	for k, i := 0, step; i <= last && k < 8; k, i = k+1, i+2*step {
		if c := s[i&31]; c != 0 {
			w := &odd16[k]
			for j := range o {
				o[j] += w[j] * c
			}
		}
	}
	for i := range 8 {
		out[i], out[15-i] = e[i]+o[i], e[i]-o[i]
	}
}

func idct32(s *[32]int32, last int, out *[32]int32) {
	var e, o [16]int32
	idct16(s, 2, last, &e)
	for k, i := 0, 1; i <= last && k < 16; k, i = k+1, i+2 {
		if c := s[i&31]; c != 0 {
			w := &odd32[k]
			for j := range o {
				o[j] += w[j] * c
			}
		}
	}
	for i := range 16 {
		out[i], out[31-i] = e[i]+o[i], e[i]-o[i]
	}
}

func inverse1D(s *[32]int32, log2, last int, out *[32]int32) {
	switch log2 {
	case 2:
		idct4(s, 1, last, (*[4]int32)(out[:4]))
	case 3:
		idct8(s, 1, last, (*[8]int32)(out[:8]))
	case 4:
		idct16(s, 1, last, (*[16]int32)(out[:16]))
	default:
		idct32(s, last, out)
	}
}

func clip16(v int32) int32 { return min(max(v, -32768), 32767) }

// inverseDCT turns the coefficients of a block into its residual, in place
// (clause 8.6.4.2). maxX and maxY bound the coefficients that are not zero.
func inverseDCT(c *[1024]int32, log2, maxX, maxY, depth int) {
	n := 1 << log2
	shift := uint(20 - depth)
	round := int32(1) << (shift - 1)
	if maxX == 0 && maxY == 0 {
		v := (64*clip16((64*c[0]+64)>>7) + round) >> shift
		block := c[:n*n]
		for i := range block {
			block[i] = v
		}
		return
	}
	var in, out [32]int32
	for x := 0; x <= maxX; x++ {
		for y := 0; y <= maxY; y++ {
			in[y&31] = c[(y<<log2+x)&1023]
		}
		inverse1D(&in, log2, maxY, &out)
		for y := range n {
			c[(y<<log2+x)&1023] = clip16((out[y&31] + 64) >> 7)
		}
	}
	for y := range n {
		row := c[y<<log2 : y<<log2+n]
		copy(in[:maxX+1], row)
		inverse1D(&in, log2, maxX, &out)
		for x := range row {
			row[x] = (out[x&31] + round) >> shift
		}
	}
}

// inverseDST is the 4x4 sine transform of intra luma blocks (clause 8.6.4.2).
func inverseDST(c *[1024]int32, depth int) {
	shift := uint(20 - depth)
	round := int32(1) << (shift - 1)
	for x := range 4 {
		r := dst(c[x], c[4+x], c[8+x], c[12+x])
		for y, v := range r {
			c[4*y+x] = clip16((v + 64) >> 7)
		}
	}
	for y := range 4 {
		r := dst(c[4*y], c[4*y+1], c[4*y+2], c[4*y+3])
		for x, v := range r {
			c[4*y+x] = (v + round) >> shift
		}
	}
}

func dst(a, b, c, d int32) [4]int32 {
	return [4]int32{
		29*a + 74*b + 84*c + 55*d,
		55*a + 74*b - 29*c - 84*d,
		74*a - 74*c + 74*d,
		84*a - 74*b + 55*c - 29*d,
	}
}

// skipTransform scales the residual of a 4x4 block sent without a transform
// (clause 8.6.4.2 with transform_skip_flag).
func skipTransform(c *[1024]int32, depth int) {
	shift := uint(20 - depth)
	round := int32(1) << (shift - 1)
	for i := range 16 {
		c[i] = (c[i]<<7 + round) >> shift
	}
}

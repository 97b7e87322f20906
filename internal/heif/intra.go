package heif

// Intra prediction modes with names of their own; 2 to 34 are angles.
const (
	modePlanar     = 0
	modeDC         = 1
	modeHorizontal = 10
	modeVertical   = 26
)

// intraAngle and inverseAngle are H.265 tables 8-5 and 8-6.
var intraAngle = [35]int{
	0, 0, 32, 26, 21, 17, 13, 9, 5, 2, 0, -2, -5, -9, -13, -17, -21, -26,
	-32, -26, -21, -17, -13, -9, -5, -2, 0, 2, 5, 9, 13, 17, 21, 26, 32,
}

var inverseAngle = [35]int{
	11: -4096, 12: -1638, 13: -910, 14: -630, 15: -482, 16: -390, 17: -315, 18: -256,
	19: -315, 20: -390, 21: -482, 22: -630, 23: -910, 24: -1638, 25: -4096,
}

// border holds the reference samples of a block: index 0 is the corner in
// both, left goes down and top goes right, twice the block's size each.
type border struct{ left, top [65]int32 }

// predict fills the block of component c at (x, y) in that component's samples
// by intra prediction (clause 8.4.4.2).
func (d *picture) predict(c, x, y, log2, mode int) {
	n := 1 << log2
	b := &d.ref
	d.gather(c, x, y, n)
	if (c == 0 || d.sps.chroma == 3) && mode != modeDC && n > 4 {
		b = d.smooth(c, n, mode)
	}
	pl := &d.plane[c]
	dst := pl.pix[y*pl.stride+x:]
	edge := c == 0 && n < 32
	switch mode {
	case modePlanar:
		planar(dst, pl.stride, log2, b)
	case modeDC:
		dc(dst, pl.stride, log2, b, edge)
	default:
		d.angular(dst, pl.stride, n, mode, b, edge, int32(1)<<d.sps.depth[c]-1)
	}
}

// gather collects the reference samples, filling in those that are not there
// (clauses 8.4.4.2.1 and 8.4.4.2.2).
func (d *picture) gather(c, x, y, n int) {
	b := &d.ref
	pl := &d.plane[c]
	subX, subY := 0, 0
	if c > 0 {
		subX, subY = d.sps.subX, d.sps.subY
	}
	lx, ly := x<<subX, y<<subY
	cur := d.layout.order(lx, ly)
	// A neighbouring square of the block's size is decoded wholly before or
	// wholly after it, so one look settles each, but for the picture's edge.
	left := x > 0 && d.available(cur, lx-1, ly)
	top := y > 0 && d.available(cur, lx, ly-1)
	corner := x > 0 && y > 0 && d.available(cur, lx-1, ly-1)
	below, right := 0, 0
	if left && d.available(cur, lx-1, (y+n)<<subY) {
		below = min(n, pl.h-y-n)
	}
	if y > 0 && d.available(cur, (x+n)<<subX, ly-1) {
		right = min(n, pl.w-x-n)
	}
	at := y*pl.stride + x
	nLeft := 0
	if left {
		nLeft = n + below
		for i, p := 0, at-1; i < nLeft; i, p = i+1, p+pl.stride {
			b.left[1+i] = int32(pl.pix[p])
		}
	}
	if corner {
		b.left[0] = int32(pl.pix[at-pl.stride-1])
	}
	first, last := n, n // the part of the top row that is there
	if top {
		first = 0
	}
	if right > 0 {
		last = n + right
	}
	if first < last {
		for i, v := range pl.pix[at-pl.stride+first : at-pl.stride+last] {
			b.top[1+first+i] = int32(v)
		}
	}
	if first >= last && nLeft == 0 && !corner {
		mid := int32(1) << (d.sps.depth[c] - 1)
		for i := range 2*n + 1 {
			b.left[i], b.top[i] = mid, mid
		}
		return
	}
	// The search for the first sample goes up the left and along the top.
	if nLeft == 0 {
		v := b.left[0]
		if !corner {
			v = b.top[1+first]
		}
		for i := range 2 * n {
			b.left[1+i] = v
		}
	} else {
		for i := nLeft; i < 2*n; i++ {
			b.left[1+i] = b.left[nLeft]
		}
	}
	if !corner {
		b.left[0] = b.left[1]
	}
	b.top[0] = b.left[0]
	for i := range first {
		b.top[1+i] = b.top[0]
	}
	for i := last; i < 2*n; i++ {
		b.top[1+i] = b.top[last]
	}
}

// smooth filters the reference samples where the block's size and mode ask for
// it (clause 8.4.4.2.3) and returns those to use.
func (d *picture) smooth(c, n, mode int) *border {
	b := &d.ref
	away := min(abs(mode-modeVertical), abs(mode-modeHorizontal))
	switch n {
	case 8:
		if away <= 7 {
			return b
		}
	case 16:
		if away <= 1 {
			return b
		}
	default:
		if away == 0 {
			return b
		}
	}
	f := &d.smoothed
	corner := b.top[0]
	if d.sps.strongSmoothing && c == 0 && n == 32 {
		limit := int32(1) << (d.sps.depth[0] - 5)
		if abs(corner+b.top[64]-2*b.top[32]) < limit && abs(corner+b.left[64]-2*b.left[32]) < limit {
			for i := int32(0); i <= 64; i++ {
				f.left[i] = ((64-i)*corner + i*b.left[64] + 32) >> 6
				f.top[i] = ((64-i)*corner + i*b.top[64] + 32) >> 6
			}
			return f
		}
	}
	f.left[0] = (b.left[1] + 2*corner + b.top[1] + 2) >> 2
	f.top[0] = f.left[0]
	for i := 1; i < 2*n; i++ {
		f.left[i] = (b.left[i-1] + 2*b.left[i] + b.left[i+1] + 2) >> 2
		f.top[i] = (b.top[i-1] + 2*b.top[i] + b.top[i+1] + 2) >> 2
	}
	f.left[2*n], f.top[2*n] = b.left[2*n], b.top[2*n]
	return f
}

func planar(dst []uint16, stride, log2 int, b *border) {
	n := 1 << log2
	right, bottom := b.top[n+1], b.left[n+1]
	for y := range n {
		row := dst[y*stride : y*stride+n]
		left := b.left[1+y]
		for x := range row {
			v := int32(n-1-x)*left + int32(x+1)*right + int32(n-1-y)*b.top[1+x] + int32(y+1)*bottom
			row[x] = uint16((v + int32(n)) >> (log2 + 1))
		}
	}
}

func dc(dst []uint16, stride, log2 int, b *border, edge bool) {
	n := 1 << log2
	sum := int32(n)
	for i := 1; i <= n; i++ {
		sum += b.left[i] + b.top[i]
	}
	v := sum >> (log2 + 1)
	for y := range n {
		row := dst[y*stride : y*stride+n]
		for x := range row {
			row[x] = uint16(v)
		}
	}
	if edge {
		dst[0] = uint16((b.left[1] + 2*v + b.top[1] + 2) >> 2)
		for i := 1; i < n; i++ {
			dst[i] = uint16((b.top[1+i] + 3*v + 2) >> 2)
			dst[i*stride] = uint16((b.left[1+i] + 3*v + 2) >> 2)
		}
	}
}

// angular predicts along a direction (clause 8.4.4.2.6). Modes below 18 are
// those above with rows and columns exchanged.
func (d *picture) angular(dst []uint16, stride, n, mode int, b *border, edge bool, most int32) {
	across := mode < 18
	main, side := &b.top, &b.left
	if across {
		main, side = side, main
	}
	angle := intraAngle[mode]
	// line[32+i] is the reference sample i of the standard's array ref.
	var line [98]int32
	if angle < 0 {
		copy(line[32:], main[:n+1])
		if first := (n * angle) >> 5; first < -1 {
			for i := first; i < 0; i++ {
				line[32+i] = side[(i*inverseAngle[mode]+128)>>8]
			}
		}
	} else {
		copy(line[32:], main[:2*n+1])
	}
	for y := range n {
		pos := (y + 1) * angle
		f := int32(pos & 31)
		src := line[33+pos>>5:]
		src = src[:n+1]
		if !across {
			row := dst[y*stride : y*stride+n]
			if f == 0 {
				for x := range row {
					row[x] = uint16(src[x])
				}
			} else {
				for x := range row {
					row[x] = uint16(((32-f)*src[x] + f*src[x+1] + 16) >> 5)
				}
			}
			continue
		}
		if f == 0 {
			for x, p := 0, y; x < n; x, p = x+1, p+stride {
				dst[p] = uint16(src[x])
			}
		} else {
			for x, p := 0, y; x < n; x, p = x+1, p+stride {
				dst[p] = uint16(((32-f)*src[x] + f*src[x+1] + 16) >> 5)
			}
		}
	}
	if angle == 0 && edge {
		step := stride
		if across {
			step = 1
		}
		for i := range n {
			v := main[1] + (side[1+i]-side[0])>>1
			dst[i*step] = uint16(min(max(v, 0), most))
		}
	}
}

func abs[T int | int32](v T) T {
	if v < 0 {
		return -v
	}
	return v
}

package heif

// transformTree decodes a transform tree (clause 7.3.8.8). cbf holds the coded
// block flags of the level above for cb and cr: bit 0 for the (upper) block, bit
// 1 for 4:2:2's lower one. The base is where the level above begins.
func (d *picture) transformTree(x, y, baseX, baseY, log2, depth int, cbf [3]int) {
	s, c := d.sps, &d.cabac
	var split bool
	switch {
	case log2 > s.log2MaxTB || d.split4 && depth == 0:
		split = true
	case log2 > s.log2MinTB && depth < d.maxDepth:
		split = c.bin(ctxSplitTransform+5-log2) == 1
	}
	if s.chroma != 0 && (log2 > 2 || s.chroma == 3) {
		for i := 1; i < 3; i++ {
			if depth > 0 && cbf[i] == 0 {
				continue
			}
			cbf[i] = c.bin(ctxCbfChroma + depth)
			if s.chroma == 2 && (!split || log2 == 3) {
				cbf[i] |= c.bin(ctxCbfChroma+depth) << 1
			}
		}
	}
	if !split {
		d.transformUnit(x, y, baseX, baseY, log2, depth, cbf)
		return
	}
	half := 1 << (log2 - 1)
	for i := range 4 {
		d.transformTree(x+i&1*half, y+i>>1*half, x, y, log2-1, depth+1, cbf)
		if d.err != nil {
			return
		}
	}
}

// transformUnit predicts and decodes one transform unit (clause 7.3.8.10).
func (d *picture) transformUnit(x, y, baseX, baseY, log2, depth int, cbf [3]int) {
	s, c := d.sps, &d.cabac
	d.markEdges(x, y, log2)
	luma := 1
	if depth > 0 {
		luma = 0
	}
	cbf[0] = c.bin(ctxCbfLuma + luma)
	if cbf[0]|cbf[1]|cbf[2] != 0 && d.pps.cuQPDelta && !d.qpDeltaCoded {
		d.readQPDelta()
	}
	mode := int(d.mode[y>>2*d.w4+x>>2])
	d.block(0, x, y, log2, mode, cbf[0])
	switch {
	case s.chroma == 0:
		return
	case s.chroma == 3:
		part := 0
		if d.split4 {
			if x >= d.cuX+d.cuSize/2 {
				part++
			}
			if y >= d.cuY+d.cuSize/2 {
				part += 2
			}
		}
		for i := 1; i < 3; i++ {
			d.block(i, x, y, log2, d.chroma[part], cbf[i])
		}
		return
	case log2 > 2:
		log2--
	case x == baseX || y == baseY:
		return // the four luma blocks' chroma comes with the last of them
	default:
		x, y = baseX, baseY
	}
	x >>= s.subX
	y >>= s.subY
	for i := 1; i < 3; i++ {
		d.block(i, x, y, log2, d.chroma[0], cbf[i]&1)
		if s.chroma == 2 {
			d.block(i, x, y+1<<log2, log2, d.chroma[0], cbf[i]>>1)
		}
	}
}

// block predicts one block of a component and adds its residual if coded.
func (d *picture) block(c, x, y, log2, mode, coded int) {
	if d.err != nil {
		return
	}
	d.predict(c, x, y, log2, mode)
	if coded != 0 {
		d.residual(c, x, y, log2, mode)
	}
}

// sigContext gives the context of sig_coeff_flag by place in a 4x4 sub-block
// (y<<2|x): first for the lone sub-block of a 4x4 block, then for each pattern of
// coded neighbours, bit 0 right and bit 1 below (clause 9.3.4.2.5).
var (
	sigContext4 = [16]uint8{0, 1, 4, 5, 2, 3, 4, 5, 6, 6, 8, 8, 7, 7, 8, 8}
	sigContext  = [4][16]uint8{
		{2, 1, 1, 0, 1, 1, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0},
		{2, 2, 2, 2, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0},
		{2, 1, 0, 0, 2, 1, 0, 0, 2, 1, 0, 0, 2, 1, 0, 0},
		{2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2},
	}
)

// readLast reads the prefix of last_sig_coeff_x or y.
func (d *picture) readLast(base, c, log2 int) int {
	offset, shift := 3*(log2-2)+(log2-1)>>2, (log2+1)>>2
	if c > 0 {
		offset, shift = 15, log2-2
	}
	v := 0
	for v < 2*log2-1 && d.cabac.bin(base+offset+v>>shift) == 1 {
		v++
	}
	return v
}

func (d *picture) lastSuffix(prefix int) int {
	if prefix < 4 {
		return prefix
	}
	n := prefix>>1 - 1
	return (2+prefix&1)<<n + d.cabac.bypassBits(n)
}

// residual reads the coefficients of a block (clause 7.3.8.11), scales and
// transforms them, and adds the result to the prediction.
func (d *picture) residual(comp, x, y, log2, mode int) {
	c := &d.cabac
	chroma := 0
	if comp > 0 {
		chroma = 1
	}
	skip := log2 == 2 && d.pps.transformSkip && !d.bypass && c.bin(ctxTransformSkip+chroma) == 1
	lx := d.readLast(ctxLastX, comp, log2)
	ly := d.readLast(ctxLastY, comp, log2)
	lx = d.lastSuffix(lx)
	ly = d.lastSuffix(ly)

	order := scanDiagonal
	if log2 == 2 || log2 == 3 && (comp == 0 || d.sps.chroma == 3) {
		switch {
		case mode >= 6 && mode <= 14:
			order = scanVertical
			lx, ly = ly, lx
		case mode >= 22 && mode <= 30:
			order = scanHorizontal
		}
	}
	inner, outer := &scans[order][2], &scans[order][log2-2]
	lastSub := int(outer.index[ly>>2<<3|lx>>2])
	lastPos := int(inner.index[ly&3<<3|lx&3])

	q := d.quantiser(comp)
	depth := d.sps.depth[comp]
	shift := uint(depth + log2 - 5)
	scale := levelScale[q%6] << (q / 6)
	round := int64(1) << (shift - 1)
	var weights []uint8
	if d.sps.scalingEnabled {
		l := d.pps.scaling
		if l == nil {
			l = d.sps.scaling
		}
		weights = l.factor[log2-2][comp]
	}

	coef := &d.coef
	clear(coef[:1<<(2*log2)])
	maxX, maxY := 0, 0
	var coded [9 * 9]uint8 // coded_sub_block_flag, with a border of zeros
	c1 := 1
	for i := lastSub; i >= 0; i-- {
		sub := outer.at[i]
		sx, sy := int(sub.x), int(sub.y)
		around := coded[sy*9+sx+1] | coded[(sy+1)*9+sx]<<1
		here, infer := true, false
		if i < lastSub && i > 0 {
			ctx := ctxSubBlock + 2*chroma
			if around != 0 {
				ctx++
			}
			here, infer = c.bin(ctx) == 1, true
		}
		if !here {
			continue
		}
		coded[sy*9+sx] = 1

		// Which coefficients are not zero.
		var sig [16]uint8
		n := 0
		k := 15
		if i == lastSub {
			sig[0], n = uint8(lastPos), 1
			k = lastPos - 1
		}
		table, base := &sigContext[around], ctxSig
		switch {
		case log2 == 2:
			table = &sigContext4
			base += 27 * chroma
		case comp == 0:
			if i > 0 {
				base += 3
			}
			switch {
			case log2 > 3:
				base += 21
			case order == scanDiagonal:
				base += 9
			default:
				base += 15
			}
		case log2 == 3:
			base += 27 + 9
		default:
			base += 27 + 12
		}
		for ; k > 0; k-- {
			p := inner.at[k&15]
			if c.bin(base+int(table[p.y<<2&15|p.x])) == 1 {
				sig[n&15] = uint8(k)
				n++
				infer = false
			}
		}
		if k == 0 {
			switch {
			case infer:
				n++
			case i == 0:
				n += c.bin(ctxSig + 27*chroma)
			default:
				n += c.bin(base + int(table[0]))
			}
		}
		if n == 0 {
			continue
		}

		// How large they are.
		set := 0
		if i > 0 && comp == 0 {
			set = 2
		}
		if c1 == 0 {
			set++
		}
		c1 = 1
		var level [16]int32
		first2 := -1
		for j := range min(n, 8) {
			level[j] = 1
			if c.bin(ctxGreater1+16*chroma+4*set+c1) == 1 {
				level[j] = 2
				c1 = 0
				if first2 < 0 {
					first2 = j
				}
			} else if c1 > 0 && c1 < 3 {
				c1++
			}
		}
		if first2 >= 0 {
			level[first2] += int32(c.bin(ctxGreater2 + 4*chroma + set))
		}
		hidden := d.pps.signHiding && !d.bypass && sig[0]-sig[n-1] > 3
		signs, nSigns := 0, n
		if hidden {
			nSigns--
		}
		if nSigns > 0 {
			signs = c.bypassBits(nSigns) << (n - nSigns)
		}
		rice := 0
		var sum int32
		for j := range n {
			least := int32(1)
			if j < 8 {
				least = 2
				if j == first2 {
					least = 3
				}
			} else {
				level[j&15] = 1
			}
			v := level[j&15]
			if v == least {
				v += c.remaining(rice)
				if v > 3<<rice {
					rice = min(rice+1, 4)
				}
			}
			sum += v
			if signs>>(n-1-j)&1 == 1 || hidden && j == n-1 && sum&1 == 1 {
				v = -v
			}
			p := inner.at[sig[j&15]&15]
			cx, cy := sx<<2|int(p.x), sy<<2|int(p.y)
			maxX, maxY = max(maxX, cx), max(maxY, cy)
			at := (cy<<log2 | cx) & 1023
			if d.bypass {
				coef[at] = v
				continue
			}
			w := int64(16)
			if weights != nil {
				w = int64(weights[at])
			}
			t := (int64(clip16(v))*w*scale + round) >> shift
			coef[at] = int32(min(max(t, -32768), 32767))
		}
	}

	switch {
	case d.bypass:
	case skip:
		skipTransform(coef, depth)
	case log2 == 2 && comp == 0:
		inverseDST(coef, depth)
	default:
		inverseDCT(coef, log2, maxX, maxY, depth)
	}
	pl := &d.plane[comp]
	size := 1 << log2
	most := int32(1)<<depth - 1
	for j := range size {
		row := pl.pix[(y+j)*pl.stride+x:][:size]
		r := coef[j<<log2:][:size]
		for k, v := range r {
			row[k] = uint16(min(max(int32(row[k])+v, 0), most))
		}
	}
}

// remaining reads coeff_abs_level_remaining (clause 9.3.3.11).
func (c *cabac) remaining(rice int) int32 {
	prefix := 0
	for prefix < 32 && c.bypass() == 1 {
		prefix++
	}
	if prefix <= 3 {
		return int32(prefix<<rice + c.bypassBits(rice))
	}
	// A conforming level fits 16 bits; a longer prefix is damage and only has
	// to stay within bounds.
	n := min(prefix-3, 16)
	return int32((1<<n+3-1)<<rice + c.bypassBits(n+rice))
}

package heif

import "math/bits"

// cabac is the arithmetic decoder of H.265 clause 9.3.4.3. The standard's
// nine-bit offset is kept with extra bits of the data below it: val holds
// 9+extra bits, so that data is fetched four bytes at a time.
type cabac struct {
	data  []byte
	next  int // next byte of data to fetch; runs past the end on damaged data
	val   uint64
	rng   uint64
	extra int
	ctx   [numCtx]uint8 // probability state << 1 | most probable value
}

// start begins decoding at byte pos of the data.
func (c *cabac) start(pos int) {
	c.next = pos
	c.val, c.rng, c.extra = 0, 510, -9
	c.fill()
	// A sound stream never begins with 510 or 511 (clause 9.3.2.5); a damaged one
	// must not leave the range, where a quotient has more bits than were asked for.
	if top := c.rng << (uint(c.extra) & 63); c.val >= top {
		c.val = top - 1
	}
}

func (c *cabac) fill() {
	var v uint64
	if c.next+4 <= len(c.data) {
		b := c.data[c.next : c.next+4]
		v = uint64(b[0])<<24 | uint64(b[1])<<16 | uint64(b[2])<<8 | uint64(b[3])
	} else {
		for i := range 4 {
			v <<= 8
			if c.next+i < len(c.data) {
				v |= uint64(c.data[c.next+i])
			}
		}
	}
	c.next += 4
	c.val = c.val<<32 | v
	c.extra += 32
}

// bytePos is the first whole byte after the bits read so far. After a
// terminating bin of 1 that is where the next substream, or the PCM samples,
// begin: the last bit of the nine-bit window is then the stop bit.
func (c *cabac) bytePos() int { return (c.next*8 - c.extra + 7) / 8 }

// overrun reports whether more bits were used than there are.
func (c *cabac) overrun() bool { return c.next*8-c.extra > len(c.data)*8+16 }

// bin decodes one context-coded bin (clause 9.3.4.3.2).
func (c *cabac) bin(i int) int {
	if c.extra < 8 {
		c.fill()
	}
	p := &c.ctx[i]
	s := *p
	lps := uint64(rangeLPS[s>>1&63][c.rng>>6&3])
	r := c.rng - lps
	scaled := r << (uint(c.extra) & 63)
	if c.val < scaled {
		*p = nextMPS[s&127]
		if r < 256 {
			r <<= 1
			c.extra--
		}
		c.rng = r
		return int(s & 1)
	}
	c.val -= scaled
	n := bits.LeadingZeros64(lps) - (64 - 9)
	c.rng = lps << (uint(n) & 63)
	c.extra -= n
	*p = nextLPS[s&127]
	return int(s&1) ^ 1
}

// bypass decodes one bin of even odds (clause 9.3.4.3.4).
func (c *cabac) bypass() int {
	if c.extra < 8 {
		c.fill()
	}
	c.extra--
	scaled := c.rng << (uint(c.extra) & 63)
	if c.val >= scaled {
		c.val -= scaled
		return 1
	}
	return 0
}

// bypassBits decodes n bins of even odds, n up to 32, first bin highest.
func (c *cabac) bypassBits(n int) int {
	v := 0
	for n > 8 {
		v = v<<8 | c.bypassByte(8)
		n -= 8
	}
	return v<<n | c.bypassByte(n)
}

func (c *cabac) bypassByte(n int) int {
	if c.extra < 8 {
		c.fill()
	}
	c.extra -= n
	scaled := c.rng << (uint(c.extra) & 63)
	q := c.val / scaled
	c.val -= q * scaled
	return int(q)
}

// terminate decodes a bin before the end of something (clause 9.3.4.3.5).
func (c *cabac) terminate() bool {
	if c.extra < 8 {
		c.fill()
	}
	c.rng -= 2
	if c.val >= c.rng<<(uint(c.extra)&63) {
		return true
	}
	if c.rng < 256 {
		c.rng <<= 1
		c.extra--
	}
	return false
}

// initContexts sets every context for an I slice of the given luma QP
// (clause 9.3.2.2, initType 0).
func (c *cabac) initContexts(qp int) {
	qp = min(max(qp, 0), 51)
	for i, v := range ctxInit {
		m := int(v>>4)*5 - 45
		n := int(v&15)<<3 - 16
		pre := min(max((m*qp)>>4+n, 1), 126)
		if pre <= 63 {
			c.ctx[i] = uint8(63-pre) << 1
		} else {
			c.ctx[i] = uint8(pre-64)<<1 | 1
		}
	}
}

// Where each syntax element's contexts begin.
const (
	ctxSAOMerge       = 0
	ctxSAOType        = ctxSAOMerge + 1
	ctxSplitCU        = ctxSAOType + 1
	ctxBypass         = ctxSplitCU + 3
	ctxPartMode       = ctxBypass + 1
	ctxPrevIntra      = ctxPartMode + 1
	ctxChromaMode     = ctxPrevIntra + 1
	ctxSplitTransform = ctxChromaMode + 1
	ctxCbfLuma        = ctxSplitTransform + 3
	ctxCbfChroma      = ctxCbfLuma + 2
	ctxQPDelta        = ctxCbfChroma + 5
	ctxTransformSkip  = ctxQPDelta + 2
	ctxLastX          = ctxTransformSkip + 2
	ctxLastY          = ctxLastX + 18
	ctxSubBlock       = ctxLastY + 18
	ctxSig            = ctxSubBlock + 4
	ctxGreater1       = ctxSig + 42
	ctxGreater2       = ctxGreater1 + 24
	numCtx            = ctxGreater2 + 6
)

// ctxInit holds the initValue of every context for initType 0, in the order
// above (H.265 tables 9-5 to 9-37).
var ctxInit = [numCtx]uint8{
	153,
	200,
	139, 141, 157,
	154,
	184,
	184,
	63,
	153, 138, 138,
	111, 141,
	94, 138, 182, 154, 154,
	154, 154,
	139, 139,
	110, 110, 124, 125, 140, 153, 125, 127, 140, 109, 111, 143, 127, 111, 79, 108, 123, 63,
	110, 110, 124, 125, 140, 153, 125, 127, 140, 109, 111, 143, 127, 111, 79, 108, 123, 63,
	91, 171, 134, 141,
	111, 111, 125, 110, 110, 94, 124, 108, 124, 107, 125, 141, 179, 153, 125, 107, 125, 141, 179, 153, 125,
	107, 125, 141, 179, 153, 125, 140, 139, 182, 182, 152, 136, 152, 136, 153, 136, 139, 111, 136, 139, 111,
	140, 92, 137, 138, 140, 152, 138, 139, 153, 74, 149, 92, 139, 107, 122, 152, 140, 179, 166, 182, 140, 227, 122, 197,
	138, 153, 136, 167, 152, 152,
}

// rangeLPS is H.265 table 9-52 (rangeTabLps).
var rangeLPS = [64][4]uint8{
	{128, 176, 208, 240}, {128, 167, 197, 227}, {128, 158, 187, 216}, {123, 150, 178, 205},
	{116, 142, 169, 195}, {111, 135, 160, 185}, {105, 128, 152, 175}, {100, 122, 144, 166},
	{95, 116, 137, 158}, {90, 110, 130, 150}, {85, 104, 123, 142}, {81, 99, 117, 135},
	{77, 94, 111, 128}, {73, 89, 105, 122}, {69, 85, 100, 116}, {66, 80, 95, 110},
	{62, 76, 90, 104}, {59, 72, 86, 99}, {56, 69, 81, 94}, {53, 65, 77, 89},
	{51, 62, 73, 85}, {48, 59, 69, 80}, {46, 56, 66, 76}, {43, 53, 63, 72},
	{41, 50, 59, 69}, {39, 48, 56, 65}, {37, 45, 54, 62}, {35, 43, 51, 59},
	{33, 41, 48, 56}, {32, 39, 46, 53}, {30, 37, 43, 50}, {29, 35, 41, 48},
	{27, 33, 39, 45}, {26, 31, 37, 43}, {24, 30, 35, 41}, {23, 28, 33, 39},
	{22, 27, 32, 37}, {21, 26, 30, 35}, {20, 24, 29, 33}, {19, 23, 27, 31},
	{18, 22, 26, 30}, {17, 21, 25, 28}, {16, 20, 23, 27}, {15, 19, 22, 25},
	{14, 18, 21, 24}, {14, 17, 20, 23}, {13, 16, 19, 22}, {12, 15, 18, 21},
	{12, 14, 17, 20}, {11, 14, 16, 19}, {11, 13, 15, 18}, {10, 12, 15, 17},
	{10, 12, 14, 16}, {9, 11, 13, 15}, {9, 11, 12, 14}, {8, 10, 12, 14},
	{8, 9, 11, 13}, {7, 9, 11, 12}, {7, 9, 10, 12}, {7, 8, 10, 11},
	{6, 8, 9, 11}, {6, 7, 9, 10}, {6, 7, 8, 9}, {2, 2, 2, 2},
}

// transLPS is the transIdxLps row of H.265 table 9-53.
var transLPS = [64]uint8{
	0, 0, 1, 2, 2, 4, 4, 5, 6, 7, 8, 9, 9, 11, 11, 12, 13, 13, 15, 15, 16, 16, 18, 18, 19, 19, 21, 21, 22, 22, 23, 24,
	24, 25, 26, 26, 27, 27, 28, 29, 29, 30, 30, 30, 31, 32, 32, 33, 33, 33, 34, 34, 35, 35, 35, 36, 36, 36, 37, 37, 37, 38, 38, 63,
}

// nextMPS and nextLPS move a context (state << 1 | value) on after the more
// and the less probable value.
var nextMPS, nextLPS = contextMoves()

func contextMoves() (mps, lps [128]uint8) {
	for s := range 128 {
		state, val := s>>1, s&1
		up := state + 1
		if state >= 62 {
			up = state
		}
		mps[s] = uint8(up<<1 | val)
		if state == 0 {
			val ^= 1
		}
		lps[s] = transLPS[state]<<1 | uint8(val)
	}
	return mps, lps
}

package heif

import (
	"errors"
	"fmt"
)

// sps is a sequence parameter set: H.265 clause 7.3.2.2, the parts that a
// still picture uses.
type sps struct {
	chroma        int // chroma_format_idc: 0 grey, 1 4:2:0, 2 4:2:2, 3 4:4:4
	width, height int // coded, in luma samples

	// The conformance window in luma samples.
	cropLeft, cropRight, cropTop, cropBottom int

	depth [3]int // bits a sample, per component

	pocBits int

	log2MinCB, log2CTB, log2MinTB, log2MaxTB int

	maxTransformDepthIntra int

	scalingEnabled bool
	scaling        *scalingLists // nil unless enabled

	sao             bool
	strongSmoothing bool

	pcm             bool
	pcmDepth        [3]int
	log2MinPCM      int
	log2MaxPCM      int
	pcmNoLoopFilter bool

	refSets      []refSet
	longTermRefs int // num_long_term_ref_pics_sps, or -1 if none may be sent
	temporalMVP  bool

	hasVideoSignal               bool
	fullRange                    bool
	hasColour                    bool
	primaries, transfer, matrix  int
	ctbSize, widthCTB, heightCTB int
	subX, subY                   int // log2 of the chroma subsampling
}

// pps is a picture parameter set: H.265 clause 7.3.2.3.
type pps struct {
	spsID                 int
	dependentSlices       bool
	outputFlagPresent     bool
	extraSliceBits        int
	signHiding            bool
	initQP                int // init_qp_minus26 + 26
	transformSkip         bool
	cuQPDelta             bool
	diffCuQPDeltaDepth    int
	qpOffset              [3]int // cb and cr at 1 and 2
	sliceChromaQPOffsets  bool
	transquantBypass      bool
	tiles                 bool
	wavefront             bool
	colWidths, rowHeights []int // in CTBs; empty if spread evenly
	tileCols, tileRows    int
	loopAcrossTiles       bool
	loopAcrossSlices      bool
	deblockOverride       bool
	deblockDisabled       bool
	betaOffset, tcOffset  int // already doubled
	scaling               *scalingLists
	listsModification     bool
	sliceHeaderExtension  bool
}

var errShort = errors.New("data ends early")

func unsupported(what string) error { return fmt.Errorf("%s is not supported", what) }

func parseSPS(rbsp []byte, id *int) (*sps, error) {
	r := &bitReader{b: rbsp}
	r.skip(4) // video parameter set id
	subLayers := int(r.u(3)) + 1
	r.skip(1)
	if subLayers > 7 {
		return nil, errors.New("sps: more than 7 sub-layers")
	}
	profileTierLevel(r, subLayers)
	s := &sps{}
	*id = int(r.ue())
	if *id > 15 {
		return nil, errors.New("sps: id above 15")
	}
	s.chroma = int(r.ue())
	if s.chroma > 3 {
		return nil, errors.New("sps: chroma format above 3")
	}
	if s.chroma == 3 && r.flag() {
		return nil, unsupported("coding of separate colour planes")
	}
	w, h := r.ue(), r.ue()
	if w == 0 || h == 0 || w > 1<<16 || h > 1<<16 {
		return nil, fmt.Errorf("sps: picture of %d by %d", w, h)
	}
	s.width, s.height = int(w), int(h)
	if s.chroma == 1 || s.chroma == 2 {
		s.subX = 1
	}
	if s.chroma == 1 {
		s.subY = 1
	}
	if r.flag() {
		var c [4]int
		for i := range c {
			v := r.ue()
			if v > 1<<16 {
				return nil, errors.New("sps: conformance window outside the picture")
			}
			c[i] = int(v)
		}
		s.cropLeft, s.cropRight = c[0]<<s.subX, c[1]<<s.subX
		s.cropTop, s.cropBottom = c[2]<<s.subY, c[3]<<s.subY
		if s.cropLeft+s.cropRight >= s.width || s.cropTop+s.cropBottom >= s.height {
			return nil, errors.New("sps: conformance window outside the picture")
		}
	}
	luma, chroma := r.ue(), r.ue()
	if luma > 4 || chroma > 4 {
		return nil, unsupported("a sample depth above 12 bits")
	}
	s.depth = [3]int{int(luma) + 8, int(chroma) + 8, int(chroma) + 8}
	poc := r.ue()
	if poc > 12 {
		return nil, errors.New("sps: picture order count too long")
	}
	s.pocBits = int(poc) + 4
	first := subLayers - 1
	if r.flag() {
		first = 0
	}
	for i := first; i < subLayers; i++ {
		r.ue()
		r.ue()
		r.ue()
	}
	if err := s.blockSizes(r); err != nil {
		return nil, err
	}
	if s.scalingEnabled = r.flag(); s.scalingEnabled {
		s.scaling = defaultScaling()
		if r.flag() {
			l, err := parseScaling(r)
			if err != nil {
				return nil, err
			}
			s.scaling = l
		}
	}
	r.skip(1) // asymmetric motion partitions
	s.sao = r.flag()
	if s.pcm = r.flag(); s.pcm {
		if err := s.pcmParams(r); err != nil {
			return nil, err
		}
	}
	if err := s.references(r); err != nil {
		return nil, err
	}
	s.temporalMVP = r.flag()
	s.strongSmoothing = r.flag()
	if r.flag() {
		s.vui(r, subLayers)
	}
	if r.flag() {
		rangeExt := r.flag()
		others := r.u(7)
		if rangeExt && r.u(9) != 0 {
			return nil, unsupported("a tool of the range extensions")
		}
		// Bits 6 and 5 are the multilayer and 3-D extensions, which change
		// nothing in the base layer; bit 4 is screen content coding.
		if others&(1<<4) != 0 {
			return nil, unsupported("screen content coding")
		}
	}
	if r.over {
		return nil, fmt.Errorf("sps: %w", errShort)
	}
	return s, nil
}

func (s *sps) blockSizes(r *bitReader) error {
	minCB, diffCB, minTB, diffTB := r.ue(), r.ue(), r.ue(), r.ue()
	inter, intra := r.ue(), r.ue()
	if minCB > 3 || diffCB > 3 || minTB > 3 || diffTB > 3 || inter > 4 || intra > 4 {
		return errors.New("sps: block sizes outside the standard")
	}
	s.log2MinCB = int(minCB) + 3
	s.log2CTB = s.log2MinCB + int(diffCB)
	s.log2MinTB = int(minTB) + 2
	s.log2MaxTB = s.log2MinTB + int(diffTB)
	s.maxTransformDepthIntra = int(intra)
	switch {
	case s.log2CTB < 4 || s.log2CTB > 6,
		s.log2MinTB >= s.log2MinCB,
		s.log2MaxTB > min(s.log2CTB, 5),
		s.width&(1<<s.log2MinCB-1) != 0 || s.height&(1<<s.log2MinCB-1) != 0,
		int(intra) > s.log2CTB-s.log2MinTB:
		return errors.New("sps: block sizes outside the standard")
	}
	s.ctbSize = 1 << s.log2CTB
	s.widthCTB = (s.width + s.ctbSize - 1) >> s.log2CTB
	s.heightCTB = (s.height + s.ctbSize - 1) >> s.log2CTB
	return nil
}

func (s *sps) pcmParams(r *bitReader) error {
	luma, chroma := int(r.u(4))+1, int(r.u(4))+1
	if luma > s.depth[0] || chroma > s.depth[1] {
		return errors.New("sps: PCM deeper than the samples")
	}
	s.pcmDepth = [3]int{luma, chroma, chroma}
	least, diff := r.ue(), r.ue()
	if least > 2 || diff > 2 {
		return errors.New("sps: PCM block sizes outside the standard")
	}
	s.log2MinPCM = int(least) + 3
	s.log2MaxPCM = s.log2MinPCM + int(diff)
	if s.log2MinPCM < s.log2MinCB || s.log2MaxPCM > min(s.log2CTB, 5) {
		return errors.New("sps: PCM block sizes outside the standard")
	}
	s.pcmNoLoopFilter = r.flag()
	return nil
}

func (s *sps) references(r *bitReader) error {
	n := r.ue()
	if n > 64 {
		return errors.New("sps: more than 64 reference picture sets")
	}
	for i := range int(n) {
		set, err := parseRefSet(r, i, int(n), s.refSets)
		if err != nil {
			return err
		}
		s.refSets = append(s.refSets, set)
	}
	s.longTermRefs = -1
	if r.flag() {
		n := r.ue()
		if n > 32 {
			return errors.New("sps: more than 32 long-term references")
		}
		s.longTermRefs = int(n)
		for range n {
			r.skip(s.pocBits + 1)
		}
	}
	return nil
}

func profileTierLevel(r *bitReader, subLayers int) {
	r.skip(8 + 32 + 4 + 43 + 1 + 8)
	var profile, level [8]bool
	for i := range subLayers - 1 {
		profile[i], level[i] = r.flag(), r.flag()
	}
	if subLayers > 1 {
		r.skip(2 * (8 - (subLayers - 1)))
	}
	for i := range subLayers - 1 {
		if profile[i] {
			r.skip(88)
		}
		if level[i] {
			r.skip(8)
		}
	}
}

func parsePPS(rbsp []byte, id *int) (*pps, error) {
	r := &bitReader{b: rbsp}
	p := &pps{tileCols: 1, tileRows: 1, loopAcrossTiles: true}
	*id = int(r.ue())
	p.spsID = int(r.ue())
	if *id > 63 || p.spsID > 15 {
		return nil, errors.New("pps: id outside the standard")
	}
	p.dependentSlices = r.flag()
	p.outputFlagPresent = r.flag()
	p.extraSliceBits = int(r.u(3))
	p.signHiding = r.flag()
	r.skip(1) // cabac_init_present: of use to P and B slices only
	r.ue()
	r.ue()
	p.initQP = 26 + int(r.se())
	r.skip(1) // constrained intra prediction: every block here is intra
	p.transformSkip = r.flag()
	if p.cuQPDelta = r.flag(); p.cuQPDelta {
		d := r.ue()
		if d > 3 {
			return nil, errors.New("pps: QP delta depth above 3")
		}
		p.diffCuQPDeltaDepth = int(d)
	}
	cb, cr := r.se(), r.se()
	if cb < -12 || cb > 12 || cr < -12 || cr > 12 || p.initQP < -48 || p.initQP > 51 {
		return nil, errors.New("pps: QP offset outside the standard")
	}
	p.qpOffset = [3]int{0, int(cb), int(cr)}
	p.sliceChromaQPOffsets = r.flag()
	r.skip(2) // weighted prediction
	p.transquantBypass = r.flag()
	p.tiles = r.flag()
	p.wavefront = r.flag()
	if p.tiles {
		if err := p.tileParams(r); err != nil {
			return nil, err
		}
	}
	p.loopAcrossSlices = r.flag()
	if r.flag() {
		p.deblockOverride = r.flag()
		if p.deblockDisabled = r.flag(); !p.deblockDisabled {
			beta, tc := r.se(), r.se()
			if beta < -6 || beta > 6 || tc < -6 || tc > 6 {
				return nil, errors.New("pps: deblocking offset outside the standard")
			}
			p.betaOffset, p.tcOffset = 2*int(beta), 2*int(tc)
		}
	}
	if r.flag() {
		l, err := parseScaling(r)
		if err != nil {
			return nil, err
		}
		p.scaling = l
	}
	p.listsModification = r.flag()
	r.ue()
	p.sliceHeaderExtension = r.flag()
	if r.flag() {
		rangeExt := r.flag()
		others := r.u(7)
		if rangeExt {
			if p.transformSkip && r.ue() != 0 {
				return nil, unsupported("transform skip of large blocks")
			}
			if r.u(2) != 0 || r.ue() != 0 || r.ue() != 0 {
				return nil, unsupported("a tool of the range extensions")
			}
		}
		if others&(1<<4) != 0 {
			return nil, unsupported("screen content coding")
		}
	}
	if r.over {
		return nil, fmt.Errorf("pps: %w", errShort)
	}
	return p, nil
}

func (p *pps) tileParams(r *bitReader) error {
	cols, rows := r.ue(), r.ue()
	// Level 6.2 allows 20 columns and 22 rows; 8.5 has no limit but the CTBs.
	if cols > 255 || rows > 255 {
		return errors.New("pps: too many tiles")
	}
	p.tileCols, p.tileRows = int(cols)+1, int(rows)+1
	if !r.flag() {
		for range cols {
			p.colWidths = append(p.colWidths, int(min(r.ue(), 1<<16))+1)
		}
		for range rows {
			p.rowHeights = append(p.rowHeights, int(min(r.ue(), 1<<16))+1)
		}
	} else {
		p.colWidths, p.rowHeights = nil, nil
	}
	p.loopAcrossTiles = r.flag()
	return nil
}

package heif

import (
	"errors"
	"math/bits"
)

// NAL unit types of H.265 table 7-1.
const (
	nalFirstIRAP = 16
	nalIDRRadl   = 19
	nalIDRNoLP   = 20
	nalLastIRAP  = 23
	nalSPS       = 33
	nalPPS       = 34
)

// sliceHeader is the header of an I slice (clause 7.3.6.1).
type sliceHeader struct {
	first     bool // first in its picture
	dependent bool
	ppsID     int
	segment   int // raster address of the segment's first CTB
	address   int // the same of the slice it belongs to

	saoLuma, saoChroma bool
	qp                 int
	qpOffset           [3]int
	deblockDisabled    bool
	beta, tc           int
	loopAcross         bool
}

// readSliceHeader reads the header of a slice segment. find gives the
// parameter sets for an id; prev is the header of the segment before, whose
// fields a dependent segment takes over. It returns the bits it leaves.
func readSliceHeader(r *bitReader, nal int, find func(int) (*sps, *pps, error), prev *sliceHeader) (*sliceHeader, error) {
	h := &sliceHeader{}
	h.first = r.flag()
	r.skip(1) // no_output_of_prior_pics, sent for every IRAP picture
	h.ppsID = int(r.ue())
	s, p, err := find(h.ppsID)
	if err != nil {
		return nil, err
	}
	if !h.first {
		if p.dependentSlices {
			h.dependent = r.flag()
		}
		n := s.widthCTB * s.heightCTB
		h.segment = int(r.u(bits.Len(uint(n - 1))))
		if h.segment >= n || h.segment == 0 {
			return nil, errors.New("slice begins outside the picture")
		}
	}
	if h.dependent {
		if prev == nil || prev.ppsID != h.ppsID {
			return nil, errors.New("dependent slice without the slice it depends on")
		}
		segment := h.segment
		*h = *prev
		h.first, h.dependent, h.segment = false, true, segment
	} else {
		h.address = h.segment
		if err := h.readIndependent(r, nal, s, p); err != nil {
			return nil, err
		}
	}
	if p.tiles || p.wavefront {
		// The substreams follow each other without a gap, so where each
		// begins is known when the one before ends.
		n := r.ue()
		if n > uint32(s.widthCTB*s.heightCTB) {
			return nil, errors.New("more entry points than blocks")
		}
		if n > 0 {
			size := r.ue()
			if size > 31 {
				return nil, errors.New("entry point too long")
			}
			r.skip(int(n) * (int(size) + 1))
		}
	}
	if p.sliceHeaderExtension {
		n := r.ue()
		if n > 256 {
			return nil, errors.New("slice header extension too long")
		}
		r.skip(8 * int(n))
	}
	if !r.flag() {
		return nil, errors.New("slice header does not end where it should")
	}
	r.pos = (r.pos + 7) &^ 7
	if r.over {
		return nil, errShort
	}
	return h, nil
}

func (h *sliceHeader) readIndependent(r *bitReader, nal int, s *sps, p *pps) error {
	r.skip(p.extraSliceBits)
	if t := r.ue(); t != 2 {
		return errors.New("a slice of a still picture is not intra coded")
	}
	if p.outputFlagPresent {
		r.skip(1)
	}
	if nal != nalIDRRadl && nal != nalIDRNoLP {
		if err := skipReferences(r, s); err != nil {
			return err
		}
	}
	if s.sao {
		h.saoLuma = r.flag()
		if s.chroma != 0 {
			h.saoChroma = r.flag()
		}
	}
	h.qp = p.initQP + int(r.se())
	if h.qp < -6*(s.depth[0]-8) || h.qp > 51 {
		return errors.New("slice QP outside the standard")
	}
	if p.sliceChromaQPOffsets {
		cb, cr := r.se(), r.se()
		if cb < -12 || cb > 12 || cr < -12 || cr > 12 {
			return errors.New("slice QP offset outside the standard")
		}
		h.qpOffset = [3]int{0, int(cb), int(cr)}
	}
	override := p.deblockOverride && r.flag()
	h.deblockDisabled, h.beta, h.tc = p.deblockDisabled, p.betaOffset, p.tcOffset
	if override {
		if h.deblockDisabled = r.flag(); !h.deblockDisabled {
			beta, tc := r.se(), r.se()
			if beta < -6 || beta > 6 || tc < -6 || tc > 6 {
				return errors.New("slice deblocking offset outside the standard")
			}
			h.beta, h.tc = 2*int(beta), 2*int(tc)
		}
	}
	h.loopAcross = p.loopAcrossSlices
	if p.loopAcrossSlices && (h.saoLuma || h.saoChroma || !h.deblockDisabled) {
		h.loopAcross = r.flag()
	}
	return nil
}

// skipReferences reads past the reference pictures that a slice header of a
// picture other than IDR names even when it uses none.
func skipReferences(r *bitReader, s *sps) error {
	r.skip(s.pocBits)
	n := len(s.refSets)
	if !r.flag() {
		if _, err := parseRefSet(r, n, n, s.refSets); err != nil {
			return err
		}
	} else if n > 1 {
		r.skip(bits.Len(uint(n - 1)))
	}
	if s.longTermRefs >= 0 {
		known := uint32(0)
		if s.longTermRefs > 0 {
			known = r.ue()
		}
		own := r.ue()
		if known > 33 || own > 33 {
			return errors.New("too many long-term references")
		}
		for i := range known + own {
			if i < known {
				if s.longTermRefs > 1 {
					r.skip(bits.Len(uint(s.longTermRefs - 1)))
				}
			} else {
				r.skip(s.pocBits + 1)
			}
			if r.flag() {
				r.ue()
			}
		}
	}
	if s.temporalMVP {
		r.skip(1)
	}
	return nil
}

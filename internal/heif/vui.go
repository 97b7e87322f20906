package heif

// vui reads the video usability information (clause E.2.1) for the colour
// description, and reads past the rest.
func (s *sps) vui(r *bitReader, subLayers int) {
	if r.flag() && r.u(8) == 255 { // aspect ratio
		r.skip(32)
	}
	if r.flag() { // overscan
		r.skip(1)
	}
	if s.hasVideoSignal = r.flag(); s.hasVideoSignal {
		r.skip(3)
		s.fullRange = r.flag()
		if s.hasColour = r.flag(); s.hasColour {
			s.primaries, s.transfer, s.matrix = int(r.u(8)), int(r.u(8)), int(r.u(8))
		}
	}
	if r.flag() { // chroma sample position
		r.ue()
		r.ue()
	}
	r.skip(3)
	if r.flag() { // default display window
		for range 4 {
			r.ue()
		}
	}
	if r.flag() { // timing
		r.skip(64)
		if r.flag() {
			r.ue()
		}
		if r.flag() {
			hrd(r, subLayers)
		}
	}
	if r.flag() { // bitstream restriction
		r.skip(3)
		for range 5 {
			r.ue()
		}
	}
}

// hrd reads past the hypothetical reference decoder's parameters (clause E.2.2).
func hrd(r *bitReader, subLayers int) {
	nal, vcl := r.flag(), r.flag()
	subPic := false
	if nal || vcl {
		if subPic = r.flag(); subPic {
			r.skip(8 + 5 + 1 + 5)
		}
		r.skip(8)
		if subPic {
			r.skip(4)
		}
		r.skip(15)
	}
	for range subLayers {
		fixedInCVS, lowDelay := true, false
		if fixed := r.flag(); !fixed {
			fixedInCVS = r.flag()
		}
		if fixedInCVS {
			r.ue()
		} else {
			lowDelay = r.flag()
		}
		count := 1
		if !lowDelay {
			count = int(r.ue()) + 1
		}
		if count > 32 {
			r.over = true
			return
		}
		for _, present := range []bool{nal, vcl} {
			if !present {
				continue
			}
			for range count {
				r.ue()
				r.ue()
				if subPic {
					r.ue()
					r.ue()
				}
				r.skip(1)
			}
		}
	}
}

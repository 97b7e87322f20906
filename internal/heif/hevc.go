package heif

import (
	"errors"
	"fmt"
	"maps"
)

// config is a decoder configuration record (ISO/IEC 14496-15 clause 8.3.3.1,
// box hvcC): the parameter sets, and how long the length before each NAL unit is.
type config struct {
	lengthSize int
	sps        map[int]*sps
	pps        map[int]*pps
}

func parseConfig(b []byte) (*config, error) {
	if len(b) < 23 {
		return nil, fmt.Errorf("hvcC: %w", errShort)
	}
	cfg := &config{lengthSize: int(b[21]&3) + 1, sps: map[int]*sps{}, pps: map[int]*pps{}}
	arrays := int(b[22])
	b = b[23:]
	for range arrays {
		if len(b) < 3 {
			return nil, fmt.Errorf("hvcC: %w", errShort)
		}
		n := int(b[1])<<8 | int(b[2])
		b = b[3:]
		for range n {
			if len(b) < 2 {
				return nil, fmt.Errorf("hvcC: %w", errShort)
			}
			size := int(b[0])<<8 | int(b[1])
			if len(b) < 2+size {
				return nil, fmt.Errorf("hvcC: %w", errShort)
			}
			if err := cfg.parameterSet(b[2 : 2+size]); err != nil {
				return nil, err
			}
			b = b[2+size:]
		}
	}
	return cfg, nil
}

// parameterSet takes in a NAL unit if it is a parameter set of the base layer.
// The video parameter set holds nothing that a still picture needs.
func (cfg *config) parameterSet(nal []byte) error {
	kind, ok := nalType(nal)
	if !ok {
		return nil
	}
	var id int
	switch kind {
	case nalSPS:
		s, err := parseSPS(unescape(nal[2:]), &id)
		if err != nil {
			return err
		}
		cfg.sps[id] = s
	case nalPPS:
		p, err := parsePPS(unescape(nal[2:]), &id)
		if err != nil {
			return err
		}
		cfg.pps[id] = p
	}
	return nil
}

// nalType gives the type of a NAL unit; ok is false for one that is too short
// or belongs to an enhancement layer.
func nalType(nal []byte) (kind int, ok bool) {
	if len(nal) < 3 || nal[0]&1 != 0 || nal[1]>>3 != 0 {
		return 0, false
	}
	return int(nal[0] >> 1 & 63), true
}

func (cfg *config) find(id int) (*sps, *pps, error) {
	p := cfg.pps[id]
	if p == nil {
		return nil, nil, fmt.Errorf("picture parameter set %d is missing", id)
	}
	s := cfg.sps[p.spsID]
	if s == nil {
		return nil, nil, fmt.Errorf("sequence parameter set %d is missing", p.spsID)
	}
	return s, p, nil
}

// only returns the sequence parameter set of a record that has but one, or the
// one that the lowest picture parameter set names.
func (cfg *config) only() (*sps, error) {
	for id := range 64 {
		if cfg.pps[id] != nil {
			s, _, err := cfg.find(id)
			return s, err
		}
	}
	return nil, errors.New("hvcC has no picture parameter set")
}

// decode decodes the picture in data, NAL units each with its length before it,
// into d's planes. The picture may have at most maxPixels luma samples.
func (d *picture) decode(cfg *config, data []byte, maxPixels int) error {
	var prev *sliceHeader
	for len(data) > 0 {
		if len(data) < cfg.lengthSize {
			return errShort
		}
		size := 0
		for _, v := range data[:cfg.lengthSize] {
			size = size<<8 | int(v)
		}
		data = data[cfg.lengthSize:]
		if size > len(data) {
			return errShort
		}
		nal := data[:size]
		data = data[size:]
		kind, ok := nalType(nal)
		if !ok {
			continue
		}
		if (kind == nalSPS || kind == nalPPS) && prev == nil {
			// A parameter set may also stand before the picture.
			cfg = &config{cfg.lengthSize, maps.Clone(cfg.sps), maps.Clone(cfg.pps)}
			if err := cfg.parameterSet(nal); err != nil {
				return err
			}
		}
		if kind < nalFirstIRAP || kind > nalLastIRAP {
			continue
		}
		rbsp := unescape(nal[2:])
		r := &bitReader{b: rbsp}
		h, err := readSliceHeader(r, kind, cfg.find, prev)
		if err != nil {
			return err
		}
		if h.first {
			if prev != nil {
				break // the next picture of a burst
			}
			s, p, err := cfg.find(h.ppsID)
			if err != nil {
				return err
			}
			if s.width*s.height > maxPixels {
				return tooLarge(s.width, s.height, maxPixels)
			}
			if err := d.begin(s, p); err != nil {
				return err
			}
		} else {
			if prev == nil {
				return errors.New("the first slice is missing")
			}
			if err := d.usePPS(cfg, h.ppsID); err != nil {
				return err
			}
		}
		if err := d.segment(h, rbsp[r.pos/8:]); err != nil {
			return fmt.Errorf("decode slice at block %d: %w", h.segment, err)
		}
		prev = h
	}
	if prev == nil {
		return errors.New("no picture in the data")
	}
	if d.done != len(d.slices) {
		return fmt.Errorf("%d of %d blocks are missing", len(d.slices)-d.done, len(d.slices))
	}
	d.deblock()
	d.adaptiveOffset()
	return nil
}

// usePPS changes to the picture parameter set of a later slice, which may
// differ from the first's in all but the layout of tiles.
func (d *picture) usePPS(cfg *config, id int) error {
	s, p, err := cfg.find(id)
	if err != nil {
		return err
	}
	if p == d.pps {
		return nil
	}
	if s != d.sps {
		return errors.New("slices of one picture disagree on its sequence parameter set")
	}
	l, err := newLayout(s, p)
	if err != nil {
		return err
	}
	d.pps, d.layout = p, l
	return nil
}

func tooLarge(w, h, most int) error {
	return fmt.Errorf("picture of %d by %d pixels is larger than the %d pixels allowed", w, h, most)
}

package picture

import "encoding/binary"

// item is a stored item of a HEIF file that lies in one piece.
type item struct {
	kind     string // "Exif", "mime"
	from, to int
}

// box calls visit for each ISO media box (ISO/IEC 14496-12) in b[from:to].
func box(b []byte, from, to int, visit func(name string, from, to int)) {
	for i := from; i+8 <= to; {
		n := int(binary.BigEndian.Uint32(b[i:]))
		head := 8
		switch {
		case n == 0:
			n = to - i
		case n == 1:
			if i+16 > to {
				return
			}
			big := binary.BigEndian.Uint64(b[i+8:])
			if big > uint64(to-i) {
				return
			}
			n, head = int(big), 16
		}
		if n < head || n > to-i {
			return
		}
		visit(string(b[i+4:i+8]), i+head, i+n)
		i += n
	}
}

// reader takes big-endian numbers from b[at:to]; past the end it returns zeros
// and bad is set.
type reader struct {
	b      []byte
	at, to int
	bad    bool
}

func (r *reader) number(bytes int) int {
	if bytes < 0 || bytes > 8 || r.to-r.at < bytes {
		r.bad = true
		return 0
	}
	v := uint64(0)
	for ; bytes > 0; bytes-- {
		v = v<<8 | uint64(r.b[r.at])
		r.at++
	}
	if v > 1<<40 {
		r.bad = true
		return 0
	}
	return int(v)
}

// layHEIC finds the notes (Exif and XMP items) of a HEIF file (ISO/IEC
// 23008-12) by its item list and item places, so that they can be changed
// where they stand. whole is false when the lists are damaged or a note lies in
// several pieces or outside the file.
func layHEIC(b []byte) (items []item, whole bool) {
	var metaFrom, metaTo int
	box(b, 0, len(b), func(name string, from, to int) {
		if name == "meta" && metaTo == 0 {
			metaFrom, metaTo = from+4, to
		}
	})
	if metaTo == 0 || metaFrom > metaTo {
		return nil, false
	}
	kinds := map[int]string{}
	var places reader
	dataFrom, dataTo := 0, 0
	box(b, metaFrom, metaTo, func(name string, from, to int) {
		switch name {
		case "iinf":
			r := reader{b: b, at: from, to: to}
			if version := r.number(4) >> 24; version == 0 {
				r.number(2)
			} else {
				r.number(4)
			}
			box(b, r.at, to, func(name string, from, to int) {
				r := reader{b: b, at: from, to: to}
				version := r.number(4) >> 24
				if name != "infe" || version < 2 {
					return
				}
				id := r.number(2)
				if version > 2 {
					id = id<<16 | r.number(2)
				}
				r.number(2)
				if !r.bad && r.at+4 <= to && len(kinds) < 4096 {
					kinds[id] = string(b[r.at : r.at+4])
				}
			})
		case "iloc":
			places = reader{b: b, at: from, to: to}
		case "idat":
			dataFrom, dataTo = from, to
		}
	})
	r := &places
	version := r.number(4) >> 24
	sizes := r.number(2)
	offsetSize, lengthSize, baseSize, indexSize := sizes>>12, sizes>>8&15, sizes>>4&15, sizes&15
	idSize := 2
	if version == 2 {
		idSize = 4
	}
	count := r.number(idSize)
	whole = true
	for i := 0; i < count && !r.bad; i++ {
		id := r.number(idSize)
		method := 0
		if version > 0 {
			method = r.number(2) & 15
		}
		r.number(2)
		base := r.number(baseSize)
		extents := r.number(2)
		for e := 0; e < extents && !r.bad; e++ {
			if version > 0 {
				r.number(indexSize)
			}
			from := base + r.number(offsetSize)
			n := r.number(lengthSize)
			limit := len(b)
			if method == 1 {
				from += dataFrom
				limit = dataTo
			}
			kind := kinds[id]
			if kind != "Exif" && kind != "mime" {
				continue
			}
			if n == 0 {
				n = limit - from
			}
			if extents != 1 || method > 1 || n < 0 || from > limit || n > limit-from {
				whole = false
				continue
			}
			items = append(items, item{kind, from, from + n})
		}
	}
	return items, whole && !r.bad
}

package heif

import (
	"errors"
	"fmt"
	"math"
)

// item is one entry of a file's meta box: a coded picture, a picture made from
// others, or metadata.
type item struct {
	kind    string
	extents []extent
	method  int
	props   []property
	refs    map[string][]uint32 // by reference type, e.g. dimg
}

type extent struct{ offset, length uint64 }

// property is a box of ipco as given to an item by ipma.
type property struct {
	box
	essential bool
}

// container is a file's meta box, with the file it points into.
type container struct {
	file    []byte
	idat    []byte
	primary uint32
	items   map[uint32]*item
	configs map[string]*config // by the bytes of hvcC
}

// maxItems bounds the entries taken from a file; a 100 Mpx photograph in tiles
// of 512 has about 400.
const maxItems = 1 << 16

func readContainer(file []byte) (*container, error) {
	if !Sniff(file) {
		return nil, errors.New("not an HEIC picture")
	}
	top, err := boxes(file)
	var meta []byte
	for _, b := range top {
		if b.kind == "meta" && meta == nil {
			meta = b.body
		}
	}
	if meta == nil {
		if err != nil {
			return nil, err
		}
		return nil, errors.New("the file holds no still picture")
	}
	f := fields{b: meta}
	f.full()
	inner, err := boxes(f.b)
	if err != nil {
		return nil, err
	}
	c := &container{file: file, items: map[uint32]*item{}, configs: map[string]*config{}}
	// Items are named by iinf and the other boxes add to them, whichever
	// comes first.
	for _, b := range inner {
		if b.kind == "iinf" {
			if err := c.readInfos(b.body); err != nil {
				return nil, err
			}
		}
	}
	for _, b := range inner {
		switch b.kind {
		case "pitm":
			err = c.readPrimary(b.body)
		case "iloc":
			err = c.readLocations(b.body)
		case "iref":
			err = c.readReferences(b.body)
		case "iprp":
			err = c.readProperties(b.body)
		case "idat":
			c.idat = b.body
		}
		if err != nil {
			return nil, err
		}
	}
	if c.items[c.primary] == nil {
		return nil, errors.New("the file names no primary picture")
	}
	return c, nil
}

func (c *container) readPrimary(b []byte) error {
	f := fields{b: b}
	if v, _ := f.full(); v == 0 {
		c.primary = uint32(f.u(2))
	} else {
		c.primary = uint32(f.u(4))
	}
	return f.err("pitm")
}

func (c *container) readInfos(b []byte) error {
	f := fields{b: b}
	if v, _ := f.full(); v == 0 {
		f.u(2)
	} else {
		f.u(4)
	}
	if err := f.err("iinf"); err != nil {
		return err
	}
	list, err := boxes(f.b)
	if err != nil {
		return err
	}
	if len(list) > maxItems {
		return errors.New("too many items")
	}
	for _, e := range list {
		if e.kind != "infe" {
			continue
		}
		f := fields{b: e.body}
		v, _ := f.full()
		if v < 2 {
			continue // before HEIF: has no item type
		}
		n := 2
		if v > 2 {
			n = 4
		}
		id := uint32(f.u(n))
		f.u(2)
		kind := string(f.take(4))
		if err := f.err("infe"); err != nil {
			return err
		}
		c.items[id] = &item{kind: kind, refs: map[string][]uint32{}}
	}
	return nil
}

func (c *container) readLocations(b []byte) error {
	f := fields{b: b}
	version, _ := f.full()
	sizes := f.u(2)
	offsetSize, lengthSize := int(sizes>>12&15), int(sizes>>8&15)
	baseSize, indexSize := int(sizes>>4&15), int(sizes&15)
	if version > 2 || offsetSize > 8 || lengthSize > 8 || baseSize > 8 || indexSize > 8 {
		return errors.New(`box "iloc": sizes outside the standard`)
	}
	wide := 2
	if version == 2 {
		wide = 4
	}
	n := f.u(wide)
	total := 0
	for range n {
		if f.over {
			break
		}
		id := uint32(f.u(wide))
		method := 0
		if version > 0 {
			method = int(f.u(2) & 15)
		}
		f.u(2) // data reference
		base := f.u(baseSize)
		count := f.u(2)
		it := c.items[id]
		if it == nil {
			it = &item{} // not kept, but its extents must be read past
		}
		it.method = method
		for range count {
			if version > 0 {
				f.u(indexSize)
			}
			e := extent{base + f.u(offsetSize), f.u(lengthSize)}
			if f.over {
				break
			}
			// An extent may take no bytes at all to write down.
			if total++; total > 2*maxItems {
				return errors.New("too many extents")
			}
			it.extents = append(it.extents, e)
		}
	}
	return f.err("iloc")
}

func (c *container) readReferences(b []byte) error {
	f := fields{b: b}
	wide := 2
	if v, _ := f.full(); v > 0 {
		wide = 4
	}
	list, err := boxes(f.b)
	if err != nil {
		return err
	}
	for _, e := range list {
		f := fields{b: e.body}
		from := c.items[uint32(f.u(wide))]
		n := f.u(2)
		for range n {
			to := uint32(f.u(wide))
			if f.over {
				break
			}
			if from != nil {
				from.refs[e.kind] = append(from.refs[e.kind], to)
			}
		}
		if err := f.err("iref"); err != nil {
			return err
		}
	}
	return nil
}

func (c *container) readProperties(b []byte) error {
	list, err := boxes(b)
	if err != nil {
		return err
	}
	var props []box
	for _, e := range list {
		if e.kind == "ipco" {
			if props, err = boxes(e.body); err != nil {
				return err
			}
		}
	}
	total := 0
	for _, e := range list {
		if e.kind != "ipma" {
			continue
		}
		f := fields{b: e.body}
		version, flags := f.full()
		n := f.u(4)
		for range n {
			if f.over {
				break
			}
			id := uint32(f.u(2 + 2*min(version, 1)))
			count := f.u(1)
			for range count {
				var k int
				var essential bool
				if flags&1 != 0 {
					v := f.u(2)
					k, essential = int(v&0x7fff), v>>15 == 1
				} else {
					v := f.u(1)
					k, essential = int(v&0x7f), v>>7 == 1
				}
				it := c.items[id]
				if k == 0 || f.over || it == nil {
					continue
				}
				if k > len(props) {
					return fmt.Errorf(`box "ipma": property %d of %d`, k, len(props))
				}
				if total++; total > 16*maxItems {
					return errors.New("too many properties")
				}
				it.props = append(it.props, property{props[k-1], essential})
			}
		}
		if err := f.err("ipma"); err != nil {
			return err
		}
	}
	return nil
}

// data gathers the bytes of an item.
func (c *container) data(it *item) ([]byte, error) {
	src := c.file
	switch it.method {
	case 0:
	case 1:
		src = c.idat
	default:
		return nil, unsupported("an item made of other items' bytes")
	}
	cut := func(e extent) ([]byte, error) {
		size := uint64(len(src))
		if e.offset > size || e.length > size-e.offset {
			return nil, fmt.Errorf("item data: %w", errShort)
		}
		if e.length == 0 {
			e.length = size - e.offset
		}
		return src[e.offset : e.offset+e.length], nil
	}
	if len(it.extents) == 1 {
		return cut(it.extents[0])
	}
	var out []byte
	for _, e := range it.extents {
		b, err := cut(e)
		if err != nil {
			return nil, err
		}
		// The same bytes may be named again and again; a sane file does not
		// grow beyond its own size.
		if len(out)+len(b) > len(c.file) {
			return nil, errors.New("item data is larger than the file")
		}
		out = append(out, b...)
	}
	return out, nil
}

// prop finds the first property of a kind.
func (it *item) prop(kind string) ([]byte, bool) {
	for _, p := range it.props {
		if p.kind == kind {
			return p.body, true
		}
	}
	return nil, false
}

// config returns the decoder configuration of a coded item.
func (c *container) config(it *item) (*config, error) {
	b, ok := it.prop("hvcC")
	if !ok {
		return nil, errors.New("a picture has no decoder configuration")
	}
	if cfg := c.configs[string(b)]; cfg != nil {
		return cfg, nil
	}
	cfg, err := parseConfig(b)
	if err != nil {
		return nil, err
	}
	c.configs[string(b)] = cfg
	return cfg, nil
}

// grid is the arrangement of a picture made of tiles (ISO/IEC 23008-12 clause
// 6.6.2.3).
type grid struct {
	rows, cols    int
	width, height int
	tiles         []*item
}

func (c *container) grid(it *item) (*grid, error) {
	b, err := c.data(it)
	if err != nil {
		return nil, err
	}
	f := fields{b: b}
	version, flags := f.u(1), f.u(1)
	g := &grid{rows: int(f.u(1)) + 1, cols: int(f.u(1)) + 1}
	wide := 2
	if flags&1 != 0 {
		wide = 4
	}
	w, h := f.u(wide), f.u(wide)
	if err := f.err("grid"); err != nil {
		return nil, err
	}
	if version != 0 || w == 0 || h == 0 || w > math.MaxInt32 || h > math.MaxInt32 {
		return nil, errors.New("grid outside the standard")
	}
	g.width, g.height = int(w), int(h)
	ids := it.refs["dimg"]
	if len(ids) != g.rows*g.cols {
		return nil, fmt.Errorf("grid of %d by %d has %d tiles", g.cols, g.rows, len(ids))
	}
	for _, id := range ids {
		t := c.items[id]
		if t == nil {
			return nil, fmt.Errorf("grid names item %d, which is missing", id)
		}
		if t.kind != "hvc1" {
			return nil, unsupported(fmt.Sprintf("a grid of %q", t.kind))
		}
		g.tiles = append(g.tiles, t)
	}
	return g, nil
}

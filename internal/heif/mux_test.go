package heif

import "encoding/binary"

// The functions below write HEIF files for the tests (ISO/IEC 14496-12 and
// 23008-12), so that containers can be tried that no encoder at hand makes.

func u16(v int) []byte { return binary.BigEndian.AppendUint16(nil, uint16(v)) }
func u32(v int) []byte { return binary.BigEndian.AppendUint32(nil, uint32(v)) }

func join(parts ...[]byte) []byte {
	var out []byte
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
}

func mkbox(kind string, parts ...[]byte) []byte {
	body := join(parts...)
	return join(u32(len(body)+8), []byte(kind), body)
}

func fullbox(kind string, version int, parts ...[]byte) []byte {
	return mkbox(kind, u32(version<<24), join(parts...))
}

// muxItem is an item to be written; its properties are whole boxes.
type muxItem struct {
	kind  string
	data  []byte
	props [][]byte
	refs  map[string][]int // to items by index
}

// mux writes a file whose items are numbered from 1; the first is primary.
func mux(items []muxItem) []byte {
	var infes, ipco, ipma, iref []byte
	n := 0
	for i, it := range items {
		infes = append(infes, fullbox("infe", 2, u16(i+1), u16(0), []byte(it.kind), []byte{0})...)
		list := []byte{byte(len(it.props))}
		for _, p := range it.props {
			ipco = append(ipco, p...)
			n++
			list = append(list, u16(n|0x8000)...)
		}
		ipma = join(ipma, u16(i+1), list)
		for kind, to := range it.refs {
			var ids []byte
			for _, k := range to {
				ids = append(ids, u16(k+1)...)
			}
			iref = append(iref, mkbox(kind, u16(i+1), u16(len(to)), ids)...)
		}
	}
	build := func(at int) (meta []byte) {
		var iloc []byte
		for i, it := range items {
			iloc = join(iloc, u16(i+1), u16(0), u16(1), u32(at), u32(len(it.data)))
			at += len(it.data)
		}
		return fullbox("meta", 0,
			fullbox("hdlr", 0, u32(0), []byte("pict"), make([]byte, 13)),
			fullbox("pitm", 0, u16(1)),
			fullbox("iloc", 0, []byte{0x44, 0}, u16(len(items)), iloc),
			fullbox("iinf", 0, u16(len(items)), infes),
			fullbox("iref", 0, iref),
			mkbox("iprp", mkbox("ipco", ipco), mkbox("ipma", u32(1), u32(len(items)), ipma)))
	}
	ftyp := mkbox("ftyp", []byte("heic"), u32(0), []byte("mif1heic"))
	size := len(build(0))
	out := join(ftyp, build(len(ftyp)+size+8))
	var data []byte
	for _, it := range items {
		data = append(data, it.data...)
	}
	return join(out, mkbox("mdat", data))
}

// coded takes the coded picture out of a file.
func coded(file []byte) muxItem {
	c, err := readContainer(file)
	if err != nil {
		panic(err)
	}
	src, err := c.source()
	if err != nil {
		panic(err)
	}
	data, err := c.data(src.tile)
	if err != nil {
		panic(err)
	}
	cfg, _ := src.tile.prop("hvcC")
	return muxItem{kind: "hvc1", data: data, props: [][]byte{mkbox("hvcC", cfg)}}
}

// muxGrid makes a picture of tiles, cols in a row.
func muxGrid(tiles []muxItem, cols, w, h int, props ...[]byte) []byte {
	rows := len(tiles) / cols
	g := muxItem{kind: "grid", data: join([]byte{0, 0, byte(rows - 1), byte(cols - 1)}, u16(w), u16(h)), props: props, refs: map[string][]int{}}
	for i := range tiles {
		g.refs["dimg"] = append(g.refs["dimg"], i+1)
	}
	return mux(append([]muxItem{g}, tiles...))
}

package heif

import "errors"

// layout is the order in which a picture's blocks are decoded: H.265 clause 6.5.
type layout struct {
	toTile   []int32 // raster CTB address to tile-scan address
	toRaster []int32
	tile     []int32 // tile of each CTB, by raster address
	tileX0   []int32 // first CTB column of each CTB's tile, by raster address
	tileX1   []int32 // the column after the tile's last
	z        []int32 // decoding order of every smallest transform block
	zPitch   int
	log2Min  int
}

func newLayout(s *sps, p *pps) (*layout, error) {
	cols, err := bounds(p.tileCols, s.widthCTB, p.colWidths)
	if err != nil {
		return nil, err
	}
	rows, err := bounds(p.tileRows, s.heightCTB, p.rowHeights)
	if err != nil {
		return nil, err
	}
	w := s.widthCTB
	n := w * s.heightCTB
	l := &layout{
		toTile: make([]int32, n), toRaster: make([]int32, n), tile: make([]int32, n),
		tileX0: make([]int32, n), tileX1: make([]int32, n), log2Min: s.log2MinTB,
	}
	ts, tile := int32(0), int32(0)
	for j := range p.tileRows {
		for i := range p.tileCols {
			for y := rows[j]; y < rows[j+1]; y++ {
				for x := cols[i]; x < cols[i+1]; x++ {
					rs := y*w + x
					l.toTile[rs], l.toRaster[ts] = ts, int32(rs)
					l.tile[rs] = tile
					l.tileX0[rs], l.tileX1[rs] = int32(cols[i]), int32(cols[i+1])
					ts++
				}
			}
			tile++
		}
	}
	bits := s.log2CTB - s.log2MinTB
	l.zPitch = w << bits
	l.z = make([]int32, l.zPitch*s.heightCTB<<bits)
	for y := range s.heightCTB << bits {
		for x := range l.zPitch {
			v := l.toTile[(y>>bits)*w+x>>bits] << (2 * bits)
			for i := range bits {
				v |= int32(x>>i&1)<<(2*i) | int32(y>>i&1)<<(2*i+1)
			}
			l.z[y*l.zPitch+x] = v
		}
	}
	return l, nil
}

// bounds gives where each of n columns (or rows) of tiles begins, and the end.
func bounds(n, size int, sizes []int) ([]int, error) {
	bad := errors.New("pps: tiles do not fit the picture")
	if n > size {
		return nil, bad
	}
	at := make([]int, n+1)
	for i := range n {
		switch {
		case len(sizes) == 0 && n > 1:
			at[i+1] = (i + 1) * size / n
		case i < len(sizes):
			at[i+1] = at[i] + sizes[i]
		default:
			at[i+1] = size
		}
		if at[i+1] <= at[i] || at[i+1] > size {
			return nil, bad
		}
	}
	return at, nil
}

// order is the place in decoding order of the smallest transform block at luma
// sample (x, y).
func (l *layout) order(x, y int) int32 {
	return l.z[(y>>l.log2Min)*l.zPitch+x>>l.log2Min]
}

package print

// A ClassTable is a table of a class's paper: Rows of cells under Heads, whose Shares of the
// width add up to 1. A cell without text is left to write in.
type ClassTable struct {
	Heads  []string
	Shares []float64
	Rows   [][]string
}

// cellLines is how many lines a cell of a table may take: a row stands on one page.
const cellLines = 36

// tableBlocks set a table row by row; its heads stand again where it goes on overleaf.
func tableBlocks(t ClassTable, size float64) []block {
	const in = 1.2 // from a cell's edge to its text
	st := style{size: size}
	strong, head := st, style{size: size, bold: true}
	strong.bold = true
	at := func(w float64, i int) (x, wide float64) {
		for k := range i {
			x += t.Shares[k] * w
		}
		return x, t.Shares[i] * w
	}
	// row draws cells beside each other and returns their height; the first is its name
	row := func(c *canvas, x, y, w float64, cells []string, first, others style, least float64) float64 {
		high := least
		lines := make([][]string, len(cells))
		of := func(i int) style {
			if i == 0 {
				return first
			}
			return others
		}
		for i, text := range cells {
			_, wide := at(w, i)
			lines[i] = c.wrapAtMost(of(i), text, wide-2*in, cellLines)
			high = max(high, float64(len(lines[i]))*of(i).line()+2*in*0.7)
		}
		for i := range cells {
			off, wide := at(w, i)
			c.frame(box{x + off, y, wide, high}, 0.3, 110)
			c.lines(x+off+in, y+in*0.7, wide-2*in, lines[i], of(i))
		}
		return high
	}
	heads := func(c *canvas, x, y, w float64) (high float64) {
		c.asHead(func() { high = row(c, x, y, w, t.Heads, head, head, 0) })
		return high
	}
	again := func(c *canvas, x, y, w float64) float64 {
		defer c.hush(true)()
		return row(c, x, y, w, t.Heads, head, head, 0)
	}
	out := []block{{keep: true, what: "the rest", put: heads}}
	for _, cells := range t.Rows {
		least := st.line() + 1.6
		for _, text := range cells {
			if text == "" { // room for a hand
				least = max(9, 1.9*st.line())
			}
		}
		out = append(out, block{what: "the rest", over: again, put: func(c *canvas, x, y, w float64) (high float64) {
			c.asRow(func() { high = row(c, x, y, w, cells, strong, st, least) })
			return high
		}})
	}
	return out
}

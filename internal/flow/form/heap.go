package form

// rising is a queue of corners by height, the lowest first.
type rising []highCorner

type highCorner struct {
	h      float32
	corner int32
}

func (q *rising) push(c highCorner) {
	s := append(*q, c)
	i := len(s) - 1
	for i > 0 {
		up := (i - 1) / 2
		if s[up].h <= s[i].h {
			break
		}
		s[up], s[i] = s[i], s[up]
		i = up
	}
	*q = s
}

func (q *rising) pop() highCorner {
	s := *q
	top := s[0]
	last := len(s) - 1
	s[0] = s[last]
	s = s[:last]
	for i := 0; ; {
		k := 2*i + 1
		if k >= last {
			break
		}
		if k+1 < last && s[k+1].h < s[k].h {
			k++
		}
		if s[i].h <= s[k].h {
			break
		}
		s[i], s[k] = s[k], s[i]
		i = k
	}
	*q = s
	return top
}

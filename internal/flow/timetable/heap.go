package timetable

// more makes a variable likelier to be decided on next.
func (e *engine) more(x int32) {
	e.act[x] += e.bump
	if e.act[x] > 1e100 {
		for k := range e.act {
			e.act[k] *= 1e-100
		}
		e.bump *= 1e-100
	}
	if e.place[x] >= 0 {
		e.up(e.place[x])
	}
}

func (e *engine) push(x int32) {
	if e.place[x] >= 0 {
		return
	}
	e.place[x] = int32(len(e.heap))
	e.heap = append(e.heap, x)
	e.up(e.place[x])
}

func (e *engine) pop() int32 {
	x := e.heap[0]
	last := len(e.heap) - 1
	e.heap[0] = e.heap[last]
	e.place[e.heap[0]] = 0
	e.heap = e.heap[:last]
	e.place[x] = -1
	for i := 0; ; {
		k := 2*i + 1
		if k >= last {
			break
		}
		if k+1 < last && e.act[e.heap[k+1]] > e.act[e.heap[k]] {
			k++
		}
		if e.act[e.heap[i]] >= e.act[e.heap[k]] {
			break
		}
		e.swap(i, k)
		i = k
	}
	return x
}

func (e *engine) up(i int32) {
	for i > 0 {
		p := (i - 1) / 2
		if e.act[e.heap[p]] >= e.act[e.heap[i]] {
			return
		}
		e.swap(int(i), int(p))
		i = p
	}
}

func (e *engine) swap(i, k int) {
	e.heap[i], e.heap[k] = e.heap[k], e.heap[i]
	e.place[e.heap[i]], e.place[e.heap[k]] = int32(i), int32(k)
}

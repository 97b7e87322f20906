package form

// Triangle returns the corners of a triangle, i from 0 to [Mesh.Triangles] - 1, in mm.
// Seen from outside they go round to the left, also in a part that the file has inside
// out.
func (m *Mesh) Triangle(i int) [3]Vec {
	t := m.tris[3*i : 3*i+3]
	if m.inward()(i) < 0 {
		return [3]Vec{m.at(t[0]), m.at(t[2]), m.at(t[1])}
	}
	return [3]Vec{m.at(t[0]), m.at(t[1]), m.at(t[2])}
}

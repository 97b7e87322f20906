package colour

import "math"

// Matrix is a 3 by 3 matrix; m[row][column] multiplies a column of colour values.
type Matrix [3][3]float64

func (m Matrix) times(c XYZ) XYZ {
	return XYZ{
		m[0][0]*c.X + m[0][1]*c.Y + m[0][2]*c.Z,
		m[1][0]*c.X + m[1][1]*c.Y + m[1][2]*c.Z,
		m[2][0]*c.X + m[2][1]*c.Y + m[2][2]*c.Z,
	}
}

func (m Matrix) multiply(n Matrix) (p Matrix) {
	for i := range p {
		for j := range p {
			p[i][j] = m[i][0]*n[0][j] + m[i][1]*n[1][j] + m[i][2]*n[2][j]
		}
	}
	return p
}

// rowSums returns what m makes of (1, 1, 1): the white of an RGB matrix.
func (m Matrix) rowSums() XYZ { return m.times(XYZ{1, 1, 1}) }

// inverse returns the inverse of m, and false when m is singular or so near to
// it that 8-bit colours would be lost.
func (m Matrix) inverse() (inv Matrix, ok bool) {
	cofactor := func(i, j int) float64 {
		a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
		return m[a][c]*m[b][d] - m[a][d]*m[b][c]
	}
	det := m[0][0]*cofactor(0, 0) + m[0][1]*cofactor(0, 1) + m[0][2]*cofactor(0, 2)
	if !(math.Abs(det) > 1e-4) {
		return Matrix{}, false
	}
	for i := range inv {
		for j := range inv {
			inv[i][j] = cofactor(j, i) / det
		}
	}
	return inv, true
}

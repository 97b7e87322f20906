// Package mat is the printed photo mat: where everything stands on it, and how
// it is found again in a photograph.
//
// Every corner of the mat carries a Data Matrix (ISO/IEC 16022, ECC 200) in a
// black frame. The code says which mat, paper and corner it is, the frame's
// straight edges say to a part of a pixel where. From three or four of them the
// page is straightened; then follow the light over the white fields, the
// corners of the swatches and what their labels say.
//
// Lengths on the mat are mm from the top left of the page; places in a
// photograph are studio.Point, in displayed pixels.
package mat

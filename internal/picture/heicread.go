package picture

import "aerugo/internal/heif"

// headHEIC reads and judges a HEIC's head.
func headHEIC(b []byte) (head, error) {
	h := head{format: "HEIC", channels: 3}
	i, err := heif.ReadInfo(b)
	if err != nil {
		return h, refuse("The HEIC cannot be read (%v). Send the photograph again, or set the camera to JPEG ('most compatible').", err)
	}
	if err := checkSize(i.Width, i.Height); err != nil {
		return h, err
	}
	h.width, h.height, h.depth = i.Width, i.Height, i.BitDepth
	h.icc, h.exif = i.ICC, i.Exif
	h.fileSpace = spaceFromCodes(i.Primaries, i.Transfer)
	px := int64(i.Width) * int64(i.Height)
	h.cost = 3*2*px + 3*px
	return h, nil
}

// decodeHEIC decodes b into RGB rows as displayed: the container's turn and
// mirror are applied by the reader. Deeper pictures come out at 8 bits.
func decodeHEIC(b []byte) (*samples, error) {
	p, _, err := heif.Decode(b, MaxPixels)
	if err != nil {
		return nil, refuse("The HEIC cannot be read (%v). Send the photograph again, or set the camera to JPEG ('most compatible').", err)
	}
	return &samples{w: p.Width, h: p.Height, p8: p.RGB()}, nil
}

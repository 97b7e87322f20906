// Package heif reads HEIC still photographs: the container of ISO/IEC 23008-12
// (HEIF) with intra pictures coded by ITU-T H.265 (HEVC), as telephones write
// them.
//
// It decodes the primary picture, alone or as a grid of tiles, and applies the
// container's cropping, turning and mirroring; the orientation in the EXIF data
// must then not be applied again. Thumbnails, alpha planes, depth maps and gain
// maps are left alone. Of HEVC it knows the tools of the Main, Main 10 and Main
// Still Picture profiles and the 4:0:0, 4:2:2 and 4:4:4 sampling of the range
// extensions, at 8 to 12 bits, but none of the extensions' other tools.
package heif

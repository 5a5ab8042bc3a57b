package picture

import "image/color"

// palette is the colours of a card. A test holds each to the one behind it: WCAG 2.2 asks for a contrast of 4.5:1 of words
// and of 3:1 of shapes that carry meaning.
type palette struct {
	paper  color.RGBA // behind all
	ink    color.RGBA // words; the edge of a badge
	faint  color.RGBA // words of less weight; the ring of what is missing
	disc   color.RGBA // what is had
	rim    color.RGBA // a line within the disc, as a round has; it carries no meaning
	tick   color.RGBA // on the disc
	accent color.RGBA // marks: wanted, key
	plate  color.RGBA // behind the number of spares
}

var (
	light = palette{
		paper:  rgb(0xfbf7ee),
		ink:    rgb(0x22242a),
		faint:  rgb(0x585a62),
		disc:   rgb(0x2f4f57),
		rim:    rgb(0x5b7d85),
		tick:   rgb(0xffffff),
		accent: rgb(0x9a3c16),
		plate:  rgb(0xf5e4bf),
	}
	dark = palette{
		paper:  rgb(0x171b1e),
		ink:    rgb(0xf3eee3),
		faint:  rgb(0xa9adb0),
		disc:   rgb(0x8dbcc4),
		rim:    rgb(0x5d8d96),
		tick:   rgb(0x10181b),
		accent: rgb(0xf0a172),
		plate:  rgb(0x4a3c1d),
	}
)

func (c SetCard) palette() palette {
	if c.Dark {
		return dark
	}
	return light
}

// rgb is an opaque colour written as 0xRRGGBB.
func rgb(v uint32) color.RGBA {
	return color.RGBA{R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v), A: 0xff}
}

package picture

import (
	_ "embed" // the fonts
	"fmt"
	"image"
	"image/color"
	"sort"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"spareounce/bot/tongue"
)

// The fonts: Atkinson Hyperlegible Next by the Braille Institute of America, made to be read by people with low vision, and for
// who reads Japanese a part of Noto Sans JP. Licences and where they come from: font/README.md.
var (
	//go:embed font/Regular.ttf
	regularFont []byte
	//go:embed font/Bold.ttf
	boldFont []byte
	//go:embed font/Japanese-Regular.ttf
	japaneseRegular []byte
	//go:embed font/Japanese-Bold.ttf
	japaneseBold []byte
)

// weight is a weight of the font.
type weight int

const (
	regular weight = iota
	bold
)

// family is a font in its weights.
type family struct {
	data   [2][]byte
	parsed func() [2]*sfnt.Font
}

func newFamily(data ...[]byte) *family {
	return &family{[2][]byte(data), sync.OnceValue(func() (fonts [2]*sfnt.Font) {
		for i, one := range data {
			f, err := opentype.Parse(one)
			if err != nil {
				panic(fmt.Sprintf("an embedded font is broken: %v", err)) // a test parses them
			}
			fonts[i] = f
		}
		return fonts
	})}
}

var (
	latin    = newFamily(regularFont, boldFont)
	japanese = newFamily(japaneseRegular, japaneseBold)
)

// faces are the sizes of a font that one picture uses, in the language of the picture; a face is not safe for concurrent use, so
// pictures share none.
type faces struct {
	*family
	in   *tongue.Tongue
	made map[faceKey]font.Face
	buf  sfnt.Buffer
}

type faceKey struct {
	weight weight
	size   float64
}

// facesFor are the faces for a language: the font that has its letters.
func facesFor(in *tongue.Tongue) *faces {
	f := &faces{family: latin, in: in, made: map[faceKey]font.Face{}}
	if in.Tag() == "ja" {
		f.family = japanese
	}
	return f
}

func (f *faces) face(w weight, size float64) font.Face {
	key := faceKey{w, size}
	if f.made[key] == nil {
		face, err := opentype.NewFace(f.parsed()[w], &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
		if err != nil {
			panic(fmt.Sprintf("a face of the embedded font: %v", err)) // only for sizes that are not numbers
		}
		f.made[key] = boxed{Face: face, size: size, line: []float64{regular: 0.07, bold: 0.1}[w]}
	}
	return f.made[key]
}

// width is how wide a text is, in pixels.
func (f *faces) width(w weight, size float64, text string) float64 {
	return float64(font.MeasureString(f.face(w, size), text)) / 64 // fixed point, 26.6
}

// unseen stands for a run of letters that the font lacks; boxed draws it.
const unseen = '\uFFFC' // OBJECT REPLACEMENT CHARACTER

// boxed is a face with one more glyph, an upright box for unseen: the font draws nothing at all for what it lacks.
type boxed struct {
	font.Face
	size float64
	line float64 // width of the box's line, a share of size
}

// box is the outer edge of the glyph of unseen with its origin at 0,0, and the width of its line.
func (b boxed) box() (edge image.Rectangle, line int) {
	px := func(share float64) int { return int(b.size*share + 0.5) }
	return image.Rect(px(0.08), -px(0.66), px(0.50), 0), max(px(b.line), 1)
}

func (b boxed) GlyphAdvance(r rune) (fixed.Int26_6, bool) {
	if r == unseen {
		return fixed.Int26_6(b.size * 0.58 * 64), true
	}
	return b.Face.GlyphAdvance(r)
}

func (b boxed) GlyphBounds(r rune) (fixed.Rectangle26_6, fixed.Int26_6, bool) {
	if r == unseen {
		edge, _ := b.box()
		advance, ok := b.GlyphAdvance(r)
		return fixed.R(edge.Min.X, edge.Min.Y, edge.Max.X, edge.Max.Y), advance, ok
	}
	return b.Face.GlyphBounds(r)
}

func (b boxed) Glyph(dot fixed.Point26_6, r rune) (image.Rectangle, image.Image, image.Point, fixed.Int26_6, bool) {
	if r != unseen {
		return b.Face.Glyph(dot, r)
	}
	edge, line := b.box()
	mask := image.NewAlpha(edge)
	for y := edge.Min.Y; y < edge.Max.Y; y++ {
		for x := edge.Min.X; x < edge.Max.X; x++ {
			if !(image.Point{X: x, Y: y}).In(edge.Inset(line)) {
				mask.SetAlpha(x, y, color.Alpha{A: 0xff})
			}
		}
	}
	advance, ok := b.GlyphAdvance(r)
	return edge.Add(image.Pt(dot.X.Round(), dot.Y.Round())), mask, edge.Min, advance, ok
}

// longestText is how many letters of a text are looked at. No place on a card has room for as many.
const longestText = 300

// drawable makes one line of a text and replaces what the font cannot draw: a run of such letters becomes unseen. Marks
// that join, turn or accent other letters are left out.
func (f *faces) drawable(text string) string {
	var b strings.Builder
	inRun, n := false, 0
	for _, r := range text {
		if n++; n > longestText {
			break
		}
		switch {
		case unicode.IsSpace(r) || unicode.IsControl(r):
			b.WriteRune(' ')
			inRun = false
		case unicode.In(r, unicode.Cf, unicode.Mn, unicode.Me, unicode.Variation_Selector):
		case f.has(regular, r):
			b.WriteRune(r)
			inRun = false
		case !inRun:
			b.WriteRune(unseen)
			inRun = true
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// has reports whether a weight of the font has a letter.
func (f *faces) has(w weight, r rune) bool {
	index, err := f.parsed()[w].GlyphIndex(&f.buf, r)
	return err == nil && index != 0
}

// fit shortens a text with an ellipsis until it is no wider than width.
func (f *faces) fit(w weight, size, width float64, text string) string {
	if f.width(w, size, text) <= width {
		return text
	}
	runes := []rune(text)
	cut := func(n int) string { return strings.TrimRight(string(runes[:n]), " ") + "…" }
	tooMany := sort.Search(len(runes), func(n int) bool { return f.width(w, size, cut(n)) > width })
	if tooMany == 0 {
		return ""
	}
	return cut(tooMany - 1)
}

// neverFirst are what no line of Japanese begins with (JIS X 4051, the commonest of them).
const neverFirst = "、。，．・：；？！）」』】ー"

// wrap breaks a text into at most so many lines no wider than width. Whole is false when a word had to be broken or the
// end had to be left out.
func (f *faces) wrap(w weight, size, width float64, most int, text string) (lines []string, whole bool) {
	words := strings.Fields(text)
	whole = true
	for len(words) > 0 {
		if len(lines) == most-1 {
			rest := strings.Join(words, " ")
			last := f.fit(w, size, width, rest)
			return append(lines, last), whole && last == rest
		}
		n := 0
		for n < len(words) && f.width(w, size, strings.Join(words[:n+1], " ")) <= width {
			n++
		}
		if n > 0 {
			lines, words = append(lines, strings.Join(words[:n], " ")), words[n:]
			continue
		}
		letters := []rune(words[0])
		n = 1 // one letter has room in any tile
		for n < len(letters)-1 && f.width(w, size, string(letters[:n+1])) <= width {
			n++
		}
		if n > 1 && strings.ContainsRune(neverFirst, letters[n]) {
			n--
		}
		lines, whole = append(lines, string(letters[:n])), false
		if words[0] = string(letters[n:]); words[0] == "" {
			words = words[1:]
		}
	}
	return lines, whole
}

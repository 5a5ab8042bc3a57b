package picture

import (
	_ "embed" // the fonts
	"fmt"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
)

// The font is Atkinson Hyperlegible Next by the Braille Institute of America, made to be read by people with low vision;
// licence: SIL Open Font License 1.1, font/OFL.txt.
var (
	//go:embed font/Regular.ttf
	regularFont []byte
	//go:embed font/Bold.ttf
	boldFont []byte
)

// weight is a weight of the font.
type weight int

const (
	regular weight = iota
	bold
)

var parsed = sync.OnceValue(func() [2]*sfnt.Font {
	var fonts [2]*sfnt.Font
	for i, data := range [][]byte{regularFont, boldFont} {
		f, err := opentype.Parse(data)
		if err != nil {
			panic(fmt.Sprintf("the embedded font is broken: %v", err)) // a test parses it
		}
		fonts[i] = f
	}
	return fonts
})

// faces are the sizes of the font that one picture uses; a face is not safe for concurrent use, so pictures share none.
type faces struct {
	made map[faceKey]font.Face
	buf  sfnt.Buffer
}

type faceKey struct {
	weight weight
	size   float64
}

func newFaces() *faces { return &faces{made: map[faceKey]font.Face{}} }

func (f *faces) face(w weight, size float64) font.Face {
	key := faceKey{w, size}
	if f.made[key] == nil {
		face, err := opentype.NewFace(parsed()[w], &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
		if err != nil {
			panic(fmt.Sprintf("a face of the embedded font: %v", err)) // only for sizes that are not numbers
		}
		f.made[key] = face
	}
	return f.made[key]
}

// width is how wide a text is, in pixels.
func (f *faces) width(w weight, size float64, text string) float64 {
	return float64(font.MeasureString(f.face(w, size), text)) / 64 // fixed point, 26.6
}

// drawable replaces what the font cannot draw: a run of such letters becomes one asterisk, so that a name in another script
// or with emoji is seen to be there. Marks that join or turn letters are left out.
func (f *faces) drawable(text string) string {
	var b strings.Builder
	gap := false
	for _, r := range text {
		switch index, err := parsed()[regular].GlyphIndex(&f.buf, r); {
		case unicode.IsSpace(r):
			b.WriteRune(' ')
			gap = false
		case unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Mn, r) || unicode.IsControl(r):
		case err == nil && index != 0:
			b.WriteRune(r)
			gap = false
		case !gap:
			b.WriteRune(substitute)
			gap = true
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// substitute stands for letters that the font lacks. A test makes sure that the font has it.
const substitute = '*'

// fit shortens a text with an ellipsis until it is no wider than width.
func (f *faces) fit(w weight, size, width float64, text string) string {
	if f.width(w, size, text) <= width {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 {
		runes = runes[:len(runes)-1]
		if short := strings.TrimRight(string(runes), " ") + "…"; f.width(w, size, short) <= width {
			return short
		}
	}
	return ""
}

// wrap breaks a text into lines no wider than width, at most lines of them; what does not fit ends in an ellipsis.
func (f *faces) wrap(w weight, size, width float64, lines int, text string) []string {
	var all []string
	words := strings.Fields(text)
	for len(words) > 0 && len(all) < lines {
		n := 1
		for n < len(words) && f.width(w, size, strings.Join(words[:n+1], " ")) <= width {
			n++
		}
		line := strings.Join(words[:n], " ")
		words = words[n:]
		if len(all) == lines-1 && len(words) > 0 {
			line += " " + strings.Join(words, " ")
		}
		all = append(all, f.fit(w, size, width, line))
	}
	return all
}

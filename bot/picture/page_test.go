package picture

import (
	"bytes"
	"encoding/xml"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"spareounce/bot/tongue"
)

// The same list gives the same bytes; the fonts travel with the page, and its words can be copied and read out.
func TestPageCarriesItsFonts(t *testing.T) {
	h := hunts()["hunt"]
	data, err := h.PDF()
	if err != nil {
		t.Fatal(err)
	}
	again, err := h.PDF()
	if err != nil || !bytes.Equal(data, again) {
		t.Errorf("the same list gives other bytes, %v", err)
	}
	for part, times := range map[string]int{"/FontFile2": 2, "/ToUnicode": 2, "/Lang (en)": 1, "/Type /Page\n": 1, "/MediaBox": 1} {
		if n := bytes.Count(data, []byte(part)); n != times {
			t.Errorf("%q stands in it %d times, want %d", part, n, times)
		}
	}
	if len(data) > 60_000 {
		t.Errorf("%d bytes for a page", len(data))
	}
}

// poppler runs one of the programs of Debian's "poppler-utils" on a page, or skips.
func poppler(t *testing.T, h HuntList, program string, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		t.Skip("NOT CHECKED WITH POPPLER: " + program + " is not on the PATH; install the Debian package \"poppler-utils\" to run this check")
	}
	data, err := h.PDF()
	if err != nil {
		t.Fatal(err)
	}
	in := filepath.Join(t.TempDir(), "page.pdf")
	if err := os.WriteFile(in, data, 0o600); err != nil {
		t.Fatal(err)
	}
	args = append(args, in)
	if program != "pdftoppm" { // which writes there by itself
		args = append(args, "-")
	}
	out, err := exec.Command(path, args...).Output()
	if err != nil {
		t.Fatalf("%s: %v", program, err)
	}
	return out
}

// Another program reads every label, hint and amount from the page, and finds all of it within both A4 and Letter.
func TestPageReadsBack(t *testing.T) {
	for name, h := range map[string]HuntList{"hunt": hunts()["hunt"], "german": hunts()["hunt-german"], "long": long(200)} {
		t.Run(name, func(t *testing.T) {
			out := poppler(t, h, "pdftotext", "-bbox")
			var doc struct {
				Pages []struct {
					Words []struct {
						XMin float64 `xml:"xMin,attr"`
						XMax float64 `xml:"xMax,attr"`
						YMin float64 `xml:"yMin,attr"`
						YMax float64 `xml:"yMax,attr"`
						Text string  `xml:",chardata"`
					} `xml:"word"`
				} `xml:"body>doc>page"`
			}
			decoder := xml.NewDecoder(bytes.NewReader(out))
			decoder.Strict = false
			if err := decoder.Decode(&doc); err != nil {
				t.Fatal(err)
			}
			var words []string
			for _, page := range doc.Pages {
				for _, w := range page.Words {
					words = append(words, w.Text)
					// In points. A Letter sheet is 612 by 792; printers leave about a quarter inch.
					if w.XMin < 18 || w.XMax > 594 || w.YMin < 18 || w.YMax > 774 {
						t.Errorf("%q lies beyond a Letter sheet's printed part: %+v", w.Text, w)
					}
				}
			}
			said := strings.Join(words, " ")
			for _, s := range h.Sections {
				for _, l := range s.Lines {
					for _, text := range []string{l.Label, l.TellApart, l.Most, l.Melt} {
						for word := range strings.FieldsSeq(text) {
							if !slices.Contains(words, word) && !strings.Contains(said, word) {
								t.Errorf("%q of %q is not on the page", word, text)
							}
						}
					}
				}
			}
			if name == "long" && len(doc.Pages) < 2 {
				t.Errorf("%d lines on %d pages", h.total(), len(doc.Pages))
			}
		})
	}
}

// A page looks as it did: held against the golden picture of it, coarsely, for versions of the program that draws it differ
// in their smoothing.
func TestGoldenPages(t *testing.T) {
	for _, name := range []string{"hunt", "hunt-german"} {
		t.Run(name, func(t *testing.T) {
			drawn := poppler(t, hunts()[name], "pdftoppm", "-r", "72", "-png")
			file := filepath.Join(goldens, name+"-page.png")
			if *update {
				if err := os.WriteFile(file, drawn, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			old, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			a, b := decode(t, old), decode(t, drawn)
			if a.Bounds() != b.Bounds() {
				t.Fatalf("size %v became %v", a.Bounds(), b.Bounds())
			}
			if at, off := roughest(a, b); off > 24 {
				t.Errorf("the page looks different around %v, by %d of 255", at, off)
			}
		})
	}
}

// roughest finds the square of 12 pixels whose mean grey differs most.
func roughest(a, b *image.RGBA) (at image.Point, off int) {
	const side = 12
	for y := 0; y < a.Bounds().Dy(); y += side {
		for x := 0; x < a.Bounds().Dx(); x += side {
			square := image.Rect(x, y, x+side, y+side).Intersect(a.Bounds())
			if d := meanGrey(a, square) - meanGrey(b, square); max(d, -d) > off {
				at, off = image.Pt(x, y), max(d, -d)
			}
		}
	}
	return at, off
}

func meanGrey(m *image.RGBA, square image.Rectangle) int {
	sum, n := 0, 0
	for y := square.Min.Y; y < square.Max.Y; y++ {
		for x := square.Min.X; x < square.Max.X; x++ {
			c := m.RGBAAt(x, y)
			sum, n = sum+int(c.R)+int(c.G)+int(c.B), n+3
		}
	}
	return sum / max(n, 1)
}

// The comparison itself sees one word that is gone.
func TestRoughestSeesAWord(t *testing.T) {
	h := hunts()["hunt"]
	a := decode(t, poppler(t, h, "pdftoppm", "-r", "72", "-png"))
	h.Owner = ""
	b := decode(t, poppler(t, h, "pdftoppm", "-r", "72", "-png"))
	if _, off := roughest(a, b); off <= 24 {
		t.Errorf("a name that is gone differs by %d", off)
	}
}

// Japanese has no spaces to break a line at, and the caution below the list may not be cut.
func TestPageHasTheCautionWhole(t *testing.T) {
	h := hunts()["hunt"]
	h.In, _ = tongue.In("ja")
	h.Caution = "一覧は品の証明にはなりません。見せられたものは自分で確かめてください。買ったものにかかる税金は地域によります。"
	said := strings.Join(strings.Fields(string(poppler(t, h, "pdftotext", "-raw"))), "")
	if !strings.Contains(said, h.Caution) {
		t.Errorf("the page lacks the caution: %s", said)
	}
}

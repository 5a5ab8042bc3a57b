package picture

import (
	"strings"
	"testing"

	"spareounce/bot/tongue"
)

// TestWordsHaveRoom: in every language the words of ours that stand alone in their place are drawn whole, and the font has
// their letters.
func TestWordsHaveRoom(t *testing.T) {
	t.Parallel()
	for _, tag := range tongue.Tags() {
		in, _ := tongue.In(tag)
		f := facesFor(in)
		for _, c := range []struct {
			said phrase
			w    weight
			size float64
			room float64
		}{
			{legendHad, regular, legendSize, inner/2 - 2*legendIcon - 48}, {legendSpare, regular, legendSize, inner/2 - 2*legendIcon - 48},
			{legendMissing, regular, legendSize, inner/2 - 2*legendIcon - 48}, {legendWanted, regular, legendSize, inner/2 - 2*legendIcon - 48},
			{keyPiece, regular, legendSize, inner/2 - 2*legendIcon - 48}, {semiKeyPiece, regular, legendSize, inner/2 - 2*legendIcon - 48},
			{mostToPay, regular, huntFacts, huntRight}, {yourLimit, regular, huntFacts, huntRight}, {nothingLacked, regular, huntTell, inner},
			{huntList, bold, huntTitle, inner * 0.7}, {complete, bold, asideSize, inner / 3}, {dashed, regular, axisSize, inner},
			{nothingCounts, regular, 40, inner},
		} {
			said := in.Say(c.said)
			if width := f.width(c.w, c.size, said); width > c.room {
				t.Errorf("%s: %q is %.0f pixels wide and has room for %.0f", tag, said, width, c.room)
			}
			if strings.ContainsRune(f.drawable(said), unseen) {
				t.Errorf("%s: %q can't be drawn", tag, said)
			}
		}
		when := in.Say(lastPriceStale, "day", in.Date(date("2026-12-25")))
		if width := f.width(regular, 36, when); width > inner-300 {
			t.Errorf("%s: %q is %.0f pixels wide beside its price", tag, when, width)
		}
	}
}

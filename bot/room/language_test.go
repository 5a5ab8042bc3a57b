package room

import (
	"io"
	"net/http"
	"strings"
	"testing"

	"spareounce/bot"
)

// What is said in another language than the page's is marked so, for who has it read out (WCAG 2.2, 3.1.2 Language of Parts).
func TestWhatIsSaidSaysInWhichLanguage(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	v := open(t, r, tableTalk(t))
	reply := bot.Reply{Text: "Tausch 12 ist vereinbart.", Language: "de", Buttons: []bot.Button{{Label: "Ich habe es verschickt", Says: "sent 12"}}}
	if err := r.Tell(t.Context(), "g", "ann", reply); err != nil {
		t.Fatal(err)
	}
	response, err := http.Get(v.url + "/as/ann")
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	page, err := io.ReadAll(response.Body)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`<p class="text" dir="auto" lang="de">Tausch 12`, `action="/as/ann/press" lang="de">`} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page lacks %s", want)
		}
	}
}

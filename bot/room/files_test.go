package room

import (
	"net/http"
	"regexp"
	"testing"

	"spareounce/bot"
)

// A file is linked by what is in it, served as it was given, and only ever saved: a page in it would not be a page of ours.
func TestFilesAreSaved(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	v := open(t, r, atTable())
	href := regexp.MustCompile(`<a href="(/file/[A-Z2-7]{26,}/hunt%20list.pdf)" download>Hunt list to print</a>`)
	file := bot.File{Name: "hunt list.pdf", Type: "application/pdf", Bytes: []byte("%PDF-1.3 <script>"), About: "Hunt list to print"}
	if err := r.Tell(t.Context(), "g", "ann", bot.Reply{Files: []bot.File{file}}); err != nil {
		t.Fatal(err)
	}
	page := v.page("/as/ann")
	wantNotIn(t, "the page", page, "No answer to that")
	found := href.FindStringSubmatch(page)
	if found == nil {
		t.Fatalf("no link on the page: %s", page)
	}
	a := v.do("GET", found[1], nil)
	if a.body != string(file.Bytes) || a.header.Get("Content-Type") != file.Type || a.header.Get("Content-Disposition") != "attachment" {
		t.Errorf("served as %q of %s, %s", a.body, a.header.Get("Content-Type"), a.header.Get("Content-Disposition"))
	}
	wantNotIn(t, "another's page", v.page("/as/bo"), "hunt%20list")
	for range 5 {
		big := bot.File{Name: "big.txt", Type: "text/plain", Bytes: make([]byte, mostPictureBytes/4), About: "big"}
		if err := r.Post(t.Context(), "g", bot.Reply{Files: []bot.File{big}}); err != nil {
			t.Fatal(err)
		}
	}
	wantStatus(t, v.do("GET", found[1], nil), http.StatusNotFound, "no longer kept")
	wantIn(t, "the page", v.page("/as/ann"), "Hunt list to print (This file is no longer kept; ask for it again.)")
}

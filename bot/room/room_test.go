package room

import (
	"bytes"
	"errors"
	"html"
	"image"
	"image/png"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"spareounce/bot"
)

func TestLineSaidAloudIsReadByAll(t *testing.T) {
	t.Parallel()
	talker := atTable()
	talker.answer = func(h bot.Heard) bot.Reply { return bot.Reply{Text: "Cyd can spare the 85."} }
	v := open(t, newRoom(t), talker)
	a := v.says("ann", "  who harbour 85 ")
	if a.status != http.StatusSeeOther || a.header.Get("Location") != "/as/ann#end" {
		t.Errorf("a form without script is answered %d to %q", a.status, a.header.Get("Location"))
	}
	for _, account := range []string{"ann", "bo"} {
		page := v.page("/as/" + account)
		wantIn(t, account+"'s page", page, "who harbour 85", "Cyd can spare the 85.", `<time datetime="2026-03-02T12:00:00Z">12:00</time>`, "Monday 2 March 2026, UTC")
	}
	heard := talker.lastHeard(t)
	if want := (bot.Heard{Group: "g", From: talker.members[0], Text: "who harbour 85"}); heard != want {
		t.Errorf("the talker heard %+v, want %+v", heard, want)
	}
}

func TestPrivateAnswerIsForTheSpeakerAlone(t *testing.T) {
	t.Parallel()
	talker := atTable()
	talker.answer = func(bot.Heard) bot.Reply { return bot.Reply{Text: "You lack 84 and 87.", Private: true} }
	v := open(t, newRoom(t), talker)
	v.says("ann", "gaps harbour")
	wantIn(t, "Ann's page", v.page("/as/ann"), "gaps harbour", "You lack 84 and 87.", "For you")
	bo := v.page("/as/bo")
	wantIn(t, "Bo's page", bo, "gaps harbour")
	wantNotIn(t, "Bo's page", bo, "You lack", "For you")

	v.says("ann", "have harbour 82", "alone")
	if !talker.lastHeard(t).Private {
		t.Error("a line to the bot alone was not heard as private")
	}
	wantIn(t, "Ann's page", v.page("/as/ann"), `<q dir="auto">have harbour 82</q>`)
	wantNotIn(t, "Bo's page", v.page("/as/bo"), "have harbour 82")
}

// Whatever is answered to a line said to the bot alone stays between the two, even when the answer does not say so.
func TestLineToTheBotAloneIsAnsweredAlone(t *testing.T) {
	t.Parallel()
	talker := atTable()
	talker.answer = func(h bot.Heard) bot.Reply { return bot.Reply{Text: "answer to " + h.Text} }
	v := open(t, newRoom(t), talker)
	v.says("ann", "spot", "alone")
	wantNotIn(t, "Bo's page", v.page("/as/bo"), "answer to spot")
	wantIn(t, "Ann's page", v.page("/as/ann"), "answer to spot")
	talker.answer = nil
	v.says("ann", "good morning", "alone")
	wantIn(t, "Ann's page", v.page("/as/ann"), "good morning", "No answer to that.")
}

func TestUnreadSlipsAreCountedForTheOthers(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	v := open(t, r, atTable())
	for range 2 {
		if err := r.Tell(t.Context(), "g", "bo", bot.Reply{Text: "Ann wants your 85."}); err != nil {
			t.Fatal(err)
		}
	}
	counted := regexp.MustCompile(`<bdi>Bo</bdi><span class="count"> \(2 new\)</span>`)
	for _, path := range []string{"/", "/as/ann"} {
		if !counted.MatchString(v.page(path)) {
			t.Errorf("%s does not say that Bo has 2 new slips", path)
		}
	}
	bo := v.page("/as/bo")
	wantIn(t, "Bo's page", bo, "Ann wants your 85.")
	wantNotIn(t, "Bo's page, being read,", bo, "2 new")
	wantNotIn(t, "the door, after Bo has read,", v.page("/"), "new)")
}

// What is told again under the same key, after a crash between saying it and recording that, is shown once.
func TestTheSameMessageIsShownOnce(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	v := open(t, r, atTable())
	for _, key := range []string{"n1", "n1", "n2"} {
		if err := r.Tell(t.Context(), "g", "bo", bot.Reply{Key: key, Text: "Ann wants your 85."}); err != nil {
			t.Fatal(err)
		}
		if err := r.Post(t.Context(), "g", bot.Reply{Key: key, Text: "The weekly post."}); err != nil {
			t.Fatal(err)
		}
	}
	page := v.page("/as/bo")
	if told, posted := strings.Count(page, "Ann wants your 85."), strings.Count(page, "The weekly post."); told != 2 || posted != 2 {
		t.Errorf("two messages and two posts, one of each said twice: %d and %d are shown", told, posted)
	}
}

func TestPressingIsSayingItsLineAlone(t *testing.T) {
	t.Parallel()
	r, talker := newRoom(t), atTable()
	v := open(t, r, talker)
	if err := r.Post(t.Context(), "g", bot.Reply{Text: "Cyd can spare the 85.", Buttons: []bot.Button{{Label: "I want it", Says: `want harbour "85"`}}}); err != nil {
		t.Fatal(err)
	}
	form := regexp.MustCompile(`action="([^"]+)"><input type="hidden" name="entry" value="(\d+)"><button name="says" value="([^"]+)">I want it</button>`)
	found := form.FindStringSubmatch(v.page("/as/bo"))
	if found == nil {
		t.Fatal("there is no button on Bo's page")
	}
	v.do("POST", found[1], url.Values{"entry": {found[2]}, "says": {html.UnescapeString(found[3])}})
	if h := talker.lastHeard(t); h.From.Account != "bo" || h.Text != `want harbour "85"` || !h.Private {
		t.Errorf("the talker heard %+v", h)
	}
	const pressed = `class="pressed">I want it<span class="unseen"> (pressed)</span></button>`
	wantIn(t, "Bo's page", v.page("/as/bo"), pressed)
	wantNotIn(t, "Ann's page", v.page("/as/ann"), pressed, `<q dir="auto">want`)

	// From before a restart, no entry has that number; the line is heard all the same.
	a := v.do("POST", "/as/ann/press", url.Values{"entry": {"7"}, "says": {"accept 12"}})
	if a.status != http.StatusSeeOther || talker.lastHeard(t).Text != "accept 12" {
		t.Errorf("a button from before a restart is answered %d", a.status)
	}
}

func TestEverythingSaidIsText(t *testing.T) {
	t.Parallel()
	const evil = `<img src=x onerror=alert(1)>"'&amp;` + "\x00\r\nnext"
	r, talker := newRoom(t), atTable()
	talker.members[1].Name = evil
	v := open(t, r, talker)
	reply := bot.Reply{Text: evil, Buttons: []bot.Button{{Label: evil, Says: evil}}, Pictures: []bot.Picture{{Name: evil, Alt: evil, PNG: dot(t)}}}
	if err := r.Post(t.Context(), "g", reply); err != nil {
		t.Fatal(err)
	}
	v.says("bo", evil)
	v.says("bo", evil, "alone")
	for _, path := range []string{"/", "/as/ann", "/as/bo"} {
		page := v.page(path)
		wantNotIn(t, path, page, "<img src=x", "\x00", "\r")
		wantIn(t, path, page, "&lt;img src=x onerror=alert(1)&gt;&#34;&#39;&amp;amp;")
	}
	wantNotIn(t, "the page", v.page("/as/ann"), "<style", "style=", "javascript:", " onclick")
}

func TestPicturesAreKeptWithinBounds(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	v := open(t, r, atTable())
	src := regexp.MustCompile(`<img src="(/picture/[^"]+)" alt="([^"]+)" width="3" height="2">`)
	if err := r.Tell(t.Context(), "g", "ann", bot.Reply{Pictures: []bot.Picture{{Name: "harbour 1.png", PNG: dot(t), Alt: "Harbour, 4 of 9"}}}); err != nil {
		t.Fatal(err)
	}
	found := src.FindStringSubmatch(v.page("/as/ann"))
	if found == nil || found[2] != "Harbour, 4 of 9" || !strings.HasSuffix(found[1], "/harbour%201.png") {
		t.Fatalf("the picture is not on the page: %q", found)
	}
	if id := strings.Split(found[1], "/")[2]; len(id) < 26 { // crypto/rand.Text: at least 128 bits in base32
		t.Errorf("the picture's id %q can be guessed", id)
	}
	a := v.do("GET", found[1], nil)
	if a.body != string(dot(t)) || a.header.Get("Content-Type") != "image/png" {
		t.Errorf("the picture is served as %d bytes of %s", len(a.body), a.header.Get("Content-Type"))
	}
	big := append(dot(t), make([]byte, mostPictureBytes/4)...)
	for range 4 {
		if err := r.Post(t.Context(), "g", bot.Reply{Pictures: []bot.Picture{{Name: "big.png", PNG: big, Alt: "big"}}}); err != nil {
			t.Fatal(err)
		}
	}
	if r.book.wall.size > mostPictureBytes {
		t.Errorf("%d bytes of pictures are kept", r.book.wall.size)
	}
	wantStatus(t, v.do("GET", found[1], nil), http.StatusNotFound, "no longer kept")
	wantIn(t, "the page", v.page("/as/ann"), "Harbour, 4 of 9 (This picture is no longer kept; ask for it again.)")
	if err := r.Post(t.Context(), "g", bot.Reply{Pictures: []bot.Picture{{Name: "x.png", PNG: []byte("<svg>"), Alt: "no picture at all"}}}); err != nil {
		t.Fatal(err)
	}
	wantIn(t, "the page", v.page("/as/ann"), "no picture at all (This")
}

func TestMemoryIsBounded(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	for range mostTalk + 50 {
		if err := errors.Join(r.Post(t.Context(), "g", bot.Reply{Text: "talk"}), r.Tell(t.Context(), "g", "ann", bot.Reply{Text: "slip"})); err != nil {
			t.Fatal(err)
		}
	}
	lines, last, _ := r.lines("ann", 0)
	if len(lines) != mostTalk+mostSlips || lines[len(lines)-1].Number != last {
		t.Errorf("%d lines are kept, the last %d of %d", len(lines), lines[len(lines)-1].Number, last)
	}
	for i, l := range lines[1:] {
		if l.Number <= lines[i].Number {
			t.Fatalf("line %d comes after line %d", l.Number, lines[i].Number)
		}
	}
}

func TestChatRefusesAnotherGroup(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	if r.Tell(t.Context(), "elsewhere", "ann", bot.Reply{Text: "x"}) == nil || r.Post(t.Context(), "elsewhere", bot.Reply{Text: "x"}) == nil {
		t.Error("the room spoke for another group")
	}
	if err := errors.Join(r.Tell(t.Context(), "g", "ann", bot.Reply{}), r.Post(t.Context(), "g", bot.Reply{})); err != nil {
		t.Error(err)
	}
	if lines, _, _ := r.lines("ann", 0); len(lines) != 0 {
		t.Errorf("silence was written down: %v", lines)
	}
}

func TestDaysAreHeadedInTheGroupsZone(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 2, 22, 30, 0, 0, time.UTC)
	r := New(Config{Group: "g", Zone: time.FixedZone("XST", 2*60*60), Now: func() time.Time { return now }})
	for range 3 {
		if err := r.Post(t.Context(), "g", bot.Reply{Text: "x"}); err != nil {
			t.Fatal(err)
		}
		now = now.Add(12 * time.Hour)
	}
	lines, _, _ := r.lines("ann", 0)
	later, _, _ := r.lines("ann", lines[0].Number)
	for i, want := range []string{"Tuesday 3 March 2026, XST", "", "Wednesday 4 March 2026, XST"} {
		if lines[i].Day != want || i > 0 && later[i-1].Day != want {
			t.Errorf("line %d is headed %q", i, lines[i].Day)
		}
	}
	if lines[0].Clock != "00:30" {
		t.Errorf("22:30 UTC is shown as %s two hours east", lines[0].Clock)
	}
}

// dot is a PNG of 3 by 2 pixels.
func dot(t *testing.T) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := png.Encode(&out, image.NewGray(image.Rect(0, 0, 3, 2))); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

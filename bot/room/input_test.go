package room

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"spareounce/bot"
)

func TestOddLines(t *testing.T) {
	t.Parallel()
	talker := atTable()
	r := newRoom(t)
	v := open(t, r, talker)
	for _, empty := range []string{"", " \t ", "\r\n", "\x00"} {
		if a := v.says("ann", empty); a.status != http.StatusSeeOther || len(talker.heard) != 0 {
			t.Errorf("%q is answered %d and heard %d times", empty, a.status, len(talker.heard))
		}
	}
	long := strings.Repeat("🪙", longestLine)
	if a := v.says("ann", long); a.status != http.StatusSeeOther || talker.lastHeard(t).Text != long {
		t.Errorf("a line of %d characters is answered %d", longestLine, a.status)
	}
	heard := len(talker.heard)
	a := v.says("ann", long+"x")
	wantStatus(t, a, http.StatusRequestEntityTooLarge, "That line has 4001 characters, and 4000 fit.")
	wantIn(t, "the page, so that nothing is lost,", a.body, `value="`+long+`x"`)
	a = v.do("POST", "/as/ann/say", url.Values{"line": {long + "x"}}, "Accept", "text/plain")
	wantStatus(t, a, http.StatusRequestEntityTooLarge, "That line has 4001 characters")
	wantNotIn(t, "what the script reads", a.body, "<")
	wantStatus(t, v.says("ann", strings.Repeat("x", mostBody)), http.StatusRequestEntityTooLarge, "more than can be read at once")
	wantStatus(t, v.do("POST", "/as/ann/press", url.Values{"says": {" "}}), http.StatusUnprocessableEntity, "says nothing")
	wantStatus(t, v.do("POST", "/as/ann/press", url.Values{"says": {long + "x"}}), http.StatusUnprocessableEntity, "says nothing")
	if len(talker.heard) != heard {
		t.Error("a refused line was heard")
	}
	v.says("ann", "one\r\ntwo\rthree\xff")
	if got := talker.lastHeard(t).Text; got != "one\ntwo\nthree\uFFFD" {
		t.Errorf("line ends were heard as %q", got)
	}
}

func TestUnknownMember(t *testing.T) {
	t.Parallel()
	v := open(t, newRoom(t), atTable())
	for _, path := range []string{"/as/nobody", "/as/nobody/live", "/as/nobody/complete", "/as/%2e%2e%2fann"} {
		wantStatus(t, v.do("GET", path, nil), http.StatusNotFound, "Nobody here goes by that.")
	}
	wantStatus(t, v.says("nobody", "want harbour"), http.StatusNotFound, "Nobody here goes by that.")
	wantStatus(t, v.do("GET", "/nowhere", nil), http.StatusNotFound, "no such page")
	if a := v.do("DELETE", "/as/ann", nil); a.status/100 != 4 {
		t.Errorf("DELETE is answered %d", a.status)
	}
}

func TestComingInByName(t *testing.T) {
	t.Parallel()
	talker := atTable()
	r := newRoom(t)
	v := open(t, r, talker)
	join := func(name string, keeper bool) answer {
		form := url.Values{"name": {name}}
		if keeper {
			form.Set("keeper", "yes")
		}
		return v.do("POST", "/join", form)
	}
	for _, name := range []string{"Dot", "🦊", "مريم", "Zoë / Sol?#%", "..", strings.Repeat("m", longestName)} {
		a := join("  "+name+" ", false)
		if a.status != http.StatusSeeOther {
			t.Fatalf("%q may not come in: %d %s", name, a.status, a.body)
		}
		page := v.page(a.header.Get("Location"))
		wantIn(t, name+"'s page", page, "<bdi>"+name+"</bdi>", `dir="auto"`)
		account, err := url.PathUnescape(strings.TrimPrefix(a.header.Get("Location"), "/as/"))
		if err != nil {
			t.Fatal(err)
		}
		v.says(account, "hello")
		if h := talker.lastHeard(t); h.From != (bot.Speaker{Account: account, Name: name}) {
			t.Errorf("%q speaks as %+v", name, h.From)
		}
	}
	if join("Kay", true); !strings.Contains(v.page("/as/guest-kay"), `<span class="rank">keeper</span>`) {
		t.Error("who came in as a keeper is none")
	}
	for _, taken := range []string{"ann", "ANN", "Ann"} {
		if a := join(taken, true); a.header.Get("Location") != "/as/ann" {
			t.Errorf("%q does not lead to Ann's chair but to %q", taken, a.header.Get("Location"))
		}
	}
	for _, bad := range []string{"", " ", "\u200b\u200d", "\u0301", strings.Repeat("m", longestName+1)} {
		wantStatus(t, join(bad, false), http.StatusUnprocessableEntity, "A name has 1 to 40 characters")
	}
	for i := range mostJoined {
		join(fmt.Sprintf("crowd %d", i), false)
	}
	wantStatus(t, join("one too many", false), http.StatusUnprocessableEntity, "The room is full")
}

func TestWhoLeavesCanReadTheAnswer(t *testing.T) {
	t.Parallel()
	talker := atTable()
	talker.answer = func(bot.Heard) bot.Reply {
		talker.mu.Lock()
		defer talker.mu.Unlock()
		talker.members = talker.members[:1]
		return bot.Reply{Text: "Everything about you is forgotten.", Private: true}
	}
	v := open(t, newRoom(t), talker)
	v.page("/")
	v.says("bo", "leave the group", "alone")
	wantIn(t, "Bo's page", v.page("/as/bo"), "Everything about you is forgotten.")
}

func TestMembersThatCannotBeListed(t *testing.T) {
	t.Parallel()
	talker := atTable()
	talker.fails = errors.New("the connection is closed")
	v := open(t, newRoom(t), talker)
	for _, path := range []string{"/", "/as/ann"} {
		a := v.do("GET", path, nil)
		wantStatus(t, a, http.StatusServiceUnavailable, "try again in a moment")
		wantNotIn(t, path, a.body, "connection")
	}
}

func TestCompletion(t *testing.T) {
	t.Parallel()
	talker := atTable()
	v := open(t, newRoom(t), talker)
	if got := v.page("/as/ann/complete?line=wa"); got != "[]\n" {
		t.Errorf("nothing to offer is %q", got)
	}
	talker.offers = func(typed string) []string { return []string{typed + "nt ", `"quoted"`} }
	a := v.do("GET", "/as/ann/complete?line=wa", nil)
	if a.body != `["want ","\"quoted\""]`+"\n" || a.header.Get("Content-Type") != "application/json" {
		t.Errorf("offers are %s of %s", a.body, a.header.Get("Content-Type"))
	}
	if got := v.page("/as/ann/complete?line=" + strings.Repeat("x", longestLine+1)); got != "[]\n" {
		t.Errorf("a line too long is completed: %.40q", got)
	}
}

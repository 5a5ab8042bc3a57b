package room

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"spareounce/bot"
)

// sent is one event of a stream, as WHATWG HTML, section 9.2.6, puts it together.
type sent struct{ name, id, data string }

// reader follows one member's stream.
type reader struct {
	t      *testing.T
	events chan sent // closed at the end of the stream
}

func (v *visitor) follow(ctx context.Context, account, after, lastEventID string) *reader {
	v.t.Helper()
	req, err := http.NewRequestWithContext(ctx, "GET", v.url+"/as/"+account+"/live?after="+after, nil)
	if err != nil {
		v.t.Fatal(err)
	}
	if lastEventID != "" {
		req.Header.Set("Last-Event-ID", lastEventID)
	}
	resp, err := v.client.Do(req)
	if err != nil {
		v.t.Fatal(err)
	}
	if got := resp.Header.Get("Content-Type"); got != "text/event-stream" {
		v.t.Fatalf("the stream is %d %s", resp.StatusCode, got)
	}
	f := &reader{v.t, make(chan sent, 1000)}
	go func() {
		defer close(f.events)
		defer resp.Body.Close()
		var e sent
		for lines := bufio.NewScanner(resp.Body); lines.Scan(); {
			field, value, _ := strings.Cut(lines.Text(), ": ")
			switch {
			case lines.Text() == "" && e.name != "":
				f.events <- e
				e = sent{}
			case field == "event":
				e.name = value
			case field == "id":
				e.id = value
			case field == "data":
				e.data += value + "\n"
			}
		}
	}()
	return f
}

// next waits for the next event of a kind.
func (f *reader) next(name string) sent {
	f.t.Helper()
	late := time.After(20 * time.Second)
	for {
		select {
		case e, ok := <-f.events:
			if !ok {
				f.t.Fatal("the stream has ended")
			}
			if e.name == name {
				return e
			}
		case <-late:
			f.t.Fatalf("no event %q came", name)
		}
	}
}

func TestNewLinesComeLive(t *testing.T) {
	t.Parallel()
	r, talker := newRoom(t), atTable()
	v := open(t, r, talker)
	bo := v.follow(t.Context(), "bo", "0", "")
	wantIn(t, "the first names", bo.next("people").data, "<bdi>Ann</bdi>", `aria-current="page"><bdi>Bo</bdi>`)
	v.says("ann", "two\nlines\n\nand <b>markup</b>")
	e := bo.next("entry")
	wantIn(t, "the event", e.data, `id="e`+e.id+`"`, "<bdi>Ann</bdi>", "two\nlines\n\nand &lt;b&gt;markup&lt;/b&gt;", "Monday 2 March 2026")
	if err := r.Tell(t.Context(), "g", "ann", bot.Reply{Text: "for Ann alone"}); err != nil {
		t.Fatal(err)
	}
	wantIn(t, "the names", bo.next("people").data, "<bdi>Ann</bdi>", "(1 new)")
	if err := r.Tell(t.Context(), "g", "bo", bot.Reply{Text: "for Bo alone"}); err != nil {
		t.Fatal(err)
	}
	own := bo.next("entry")
	wantIn(t, "Bo's slip", own.data, "for Bo alone", "For you")
	wantNotIn(t, "Bo's slip", own.data, "Monday", "for Ann alone")
	v.do("POST", "/join", map[string][]string{"name": {"Dot"}})
	wantIn(t, "the names", bo.next("people").data, "<bdi>Dot</bdi>")
	if unread := r.book.unread(); unread["bo"] != 0 || unread["ann"] != 1 {
		t.Errorf("unread: %v, want none for who reads live", unread)
	}
}

func TestReaderComesBackWhereItWas(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	v := open(t, r, atTable())
	post := func(text string) {
		if err := r.Post(t.Context(), "g", bot.Reply{Text: text}); err != nil {
			t.Fatal(err)
		}
	}
	post("first")
	ctx, hangUp := context.WithCancel(t.Context())
	got := v.follow(ctx, "bo", "0", "").next("entry")
	hangUp()
	post("second")
	post("third")
	again := v.follow(t.Context(), "bo", "0", got.id) // the browser repeats its first address, so the header must win
	for _, want := range []string{"second", "third"} {
		wantIn(t, "the next event", again.next("entry").data, want)
	}
	// After a restart the numbers begin anew, at a later time: whoever stayed gets everything.
	later := New(Config{Group: "g", Now: func() time.Time { return noon.Add(time.Minute) }})
	if err := later.Post(t.Context(), "g", bot.Reply{Text: "after the restart"}); err != nil {
		t.Fatal(err)
	}
	wantIn(t, "the first event", open(t, later, atTable()).follow(t.Context(), "bo", "0", got.id).next("entry").data, "after the restart")
	ahead := strconv.FormatInt(noon.Add(time.Hour).UnixMilli(), 10) // of a book whose clock was wrong
	wantIn(t, "the first event", v.follow(t.Context(), "bo", ahead, "").next("entry").data, "first")
}

func TestFiftyReadersReadTheSame(t *testing.T) {
	t.Parallel()
	const readers, speakers, lines = 50, 4, 10
	r, talker := newRoom(t), atTable()
	talker.answer = func(h bot.Heard) bot.Reply { return bot.Reply{Text: "heard " + h.Text} }
	v := open(t, r, talker)
	var all sync.WaitGroup
	order := make([]string, readers)
	for i := range readers {
		f := v.follow(t.Context(), []string{"ann", "bo", "cyd"}[i%3], "0", "")
		all.Go(func() {
			for range 2 * speakers * lines {
				e, ok := <-f.events
				for ok && e.name != "entry" {
					e, ok = <-f.events
				}
				order[i] += e.id + " "
			}
		})
	}
	for s := range speakers {
		all.Go(func() {
			for n := range lines {
				v.says([]string{"ann", "bo"}[s%2], fmt.Sprintf("line %d of %d", n, s))
			}
		})
	}
	all.Wait()
	for i, got := range order {
		if got != order[0] || strings.Count(got, " ") != 2*speakers*lines {
			t.Fatalf("reader %d read %q, reader 0 %q", i, got, order[0])
		}
	}
}

func TestReaderWhoDoesNotReadDelaysNobody(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	v := open(t, r, atTable())
	for range 20 { // each asks for the stream and never reads a byte of it
		conn, err := net.Dial("tcp", strings.TrimPrefix(v.url, "http://"))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { conn.Close() })
		fmt.Fprintf(conn, "GET /as/ann/live HTTP/1.1\r\nHost: localhost\r\n\r\n")
	}
	quick := v.follow(t.Context(), "bo", "0", "")
	quick.next("people")
	begun := time.Now()
	long := strings.Repeat("x", longestLine)
	for range 1000 {
		if err := r.Post(t.Context(), "g", bot.Reply{Text: long}); err != nil {
			t.Fatal(err)
		}
	}
	quick.next("entry")
	if took := time.Since(begun); took > 15*time.Second {
		t.Errorf("a thousand lines took %v beside readers who do not read", took)
	}
}

// A stream outlives the time that one request may take.
func TestStreamOutlivesTheServersTimeouts(t *testing.T) {
	t.Parallel()
	r := newRoom(t)
	srv := httptest.NewUnstartedServer(r.Handler(atTable()))
	srv.Config.ReadTimeout, srv.Config.WriteTimeout = time.Second, time.Second
	srv.Start()
	t.Cleanup(srv.Close)
	f := (&visitor{t, srv.URL, srv.Client()}).follow(t.Context(), "bo", "0", "")
	f.next("people")
	time.Sleep(2500 * time.Millisecond)
	if err := r.Post(t.Context(), "g", bot.Reply{Text: "still here"}); err != nil {
		t.Fatal(err)
	}
	wantIn(t, "the event", f.next("entry").data, "still here")
}

func TestServeStopsReadersAndFinishesAnswers(t *testing.T) {
	t.Parallel()
	l, err := Listen("127.0.0.1:0", false)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	talker := atTable()
	talker.answer = func(bot.Heard) bot.Reply {
		stop() // while a line is being answered
		time.Sleep(200 * time.Millisecond)
		return bot.Reply{Text: "answered in the end"}
	}
	r := newRoom(t)
	served := make(chan error, 1)
	go func() { served <- Serve(ctx, l, r.Handler(talker)) }()
	v := &visitor{t, "http://" + l.Addr().String(), &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	f := v.follow(t.Context(), "bo", "0", "")
	if a := v.says("ann", "want harbour 85"); a.status != http.StatusSeeOther {
		t.Errorf("the line is answered %d", a.status)
	}
	for range f.events { // until the stream ends
	}
	select {
	case err := <-served:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("the room did not stop")
	}
	if lines, _, _ := r.lines("ann", 0); len(lines) != 2 || lines[1].Text != "answered in the end" {
		t.Errorf("the book holds %+v", lines)
	}
}

// lastNumber is the number of the newest slip with buttons that a member has.
func lastNumber(r *Room, account string) string {
	lines, _, _ := r.lines(account, 0)
	for i := len(lines) - 1; i >= 0; i-- {
		if lines[i].Slip && len(lines[i].Buttons) > 0 {
			return strconv.FormatInt(lines[i].Number, 10)
		}
	}
	return ""
}

package room

import (
	"bytes"
	"cmp"
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"spareounce/bot"
)

//go:embed page
var files embed.FS

var pages = template.Must(template.ParseFS(files, "page/page.html"))

// Handler serves the room. Who one is stands in the address, so two windows can be two people.
func (r *Room) Handler(t Talker) http.Handler {
	s := &site{r, t}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.door)
	mux.HandleFunc("POST /join", s.join)
	mux.HandleFunc("GET /as/{account}", s.page)
	mux.HandleFunc("POST /as/{account}/say", s.say)
	mux.HandleFunc("POST /as/{account}/press", s.press)
	mux.HandleFunc("GET /as/{account}/live", s.live)
	mux.HandleFunc("GET /as/{account}/complete", s.complete)
	mux.HandleFunc("GET /picture/{id}", s.picture)
	mux.HandleFunc("GET /room.css", s.file("page/room.css", "text/css; charset=utf-8"))
	mux.HandleFunc("GET /room.js", s.file("page/room.js", "text/javascript; charset=utf-8"))
	return guard(mux)
}

type site struct {
	*Room
	talker Talker
}

// chair is a member as the door shows them.
type chair struct {
	bot.Speaker
	Unread int
}

// shown is an entry as the page shows it.
type shown struct {
	entry
	Account      string // who looks
	Slip, Ours   bool
	Clock, Stamp string
}

// view is what the page is made of.
type view struct {
	Me      bot.Speaker
	People  []chair
	Entries []shown
	Last    int // number of the newest entry
	Notice  string
}

func (s *site) render(w http.ResponseWriter, status int, v view) {
	var out bytes.Buffer
	if err := pages.ExecuteTemplate(&out, "page", v); err != nil {
		s.config.Log.Error("the page could not be made", "err", err)
		http.Error(w, "The page could not be made.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = out.WriteTo(w)
}

// door lets people choose who they are.
func (s *site) door(w http.ResponseWriter, r *http.Request) { s.doorWith(w, r, http.StatusOK, "") }

func (s *site) doorWith(w http.ResponseWriter, r *http.Request, status int, notice string) {
	people, err := s.people(r.Context(), s.talker)
	if err != nil {
		s.config.Log.Error("the members could not be listed", "err", err)
		notice = "The members can't be listed just now. Try again in a moment."
	}
	v := view{Notice: notice}
	for _, p := range people {
		v.People = append(v.People, chair{p, s.unread(p.Account)})
	}
	s.render(w, status, v)
}

// join lets somebody new in; a name that is taken leads to the chair of whoever has it.
func (s *site) join(w http.ResponseWriter, r *http.Request) {
	name := strings.Join(strings.Fields(r.PostFormValue("name")), " ")
	account := accountOf(name)
	if account == "" || utf8.RuneCountInString(name) > 40 {
		s.doorWith(w, r, http.StatusBadRequest, "A name has 1 to 40 characters, with a letter or a digit among them.")
		return
	}
	s.Room.join(bot.Speaker{Account: account, Name: name})
	http.Redirect(w, r, "/as/"+account, http.StatusSeeOther)
}

// accountOf makes an address of a name: its letters and digits, in lower case.
func accountOf(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, name)
}

// me finds who looks; when nobody has that chair the door is shown.
func (s *site) me(w http.ResponseWriter, r *http.Request) (bot.Speaker, bool) {
	account := r.PathValue("account")
	people, err := s.people(r.Context(), s.talker)
	if err != nil {
		s.config.Log.Error("the members could not be listed", "err", err)
		http.Error(w, "The room's memory does not answer just now. Nothing was changed; try again in a moment.", http.StatusServiceUnavailable)
		return bot.Speaker{}, false
	}
	i := slices.IndexFunc(people, func(p bot.Speaker) bool { return p.Account == account })
	if i < 0 {
		s.doorWith(w, r, http.StatusNotFound, "Nobody here has that chair.")
		return bot.Speaker{}, false
	}
	return people[i], true
}

func (s *site) page(w http.ResponseWriter, r *http.Request) {
	if me, ok := s.me(w, r); ok {
		s.pageWith(w, me, http.StatusOK, "")
	}
}

func (s *site) pageWith(w http.ResponseWriter, me bot.Speaker, status int, notice string) {
	entries, _ := s.entries(me.Account, 0)
	v := view{Me: me, Entries: entries, Notice: notice}
	if len(entries) > 0 {
		v.Last = entries[len(entries)-1].Number
	}
	s.render(w, status, v)
}

// entries are the talk and a member's slips in one, by their numbers, after one of them.
func (s *site) entries(account string, after int) ([]shown, <-chan struct{}) {
	seen := s.seenBy(account)
	var all []shown
	add := func(list []entry, slip bool) {
		for _, e := range list {
			if e.Number > after {
				at := e.At.In(s.config.Zone)
				all = append(all, shown{e, account, slip, e.Name == "", at.Format("15:04"), at.Format("2006-01-02T15:04:05Z07:00")})
			}
		}
	}
	add(seen.talk, false)
	add(seen.slips, true)
	slices.SortFunc(all, func(a, b shown) int { return cmp.Compare(a.Number, b.Number) })
	return all, seen.changed
}

func (s *site) say(w http.ResponseWriter, r *http.Request) {
	me, ok := s.me(w, r)
	if !ok {
		return
	}
	text := strings.TrimSpace(r.PostFormValue("line"))
	if n := utf8.RuneCountInString(text); n > longestLine {
		s.refuse(w, r, me, fmt.Sprintf("That line has %d characters; %d fit. Nothing was said.", n, longestLine))
		return
	}
	if text != "" {
		s.hear(r.Context(), s.talker, me, text, false)
	}
	s.done(w, r, me)
}

func (s *site) press(w http.ResponseWriter, r *http.Request) {
	me, ok := s.me(w, r)
	if !ok {
		return
	}
	number, errNumber := strconv.Atoi(r.PostFormValue("entry"))
	place, errPlace := strconv.Atoi(r.PostFormValue("button"))
	says, ok := s.Room.press(me.Account, number, place)
	if errNumber != nil || errPlace != nil || !ok {
		s.refuse(w, r, me, "That button is no longer here. Say it in words instead.")
		return
	}
	s.hear(r.Context(), s.talker, me, says, true)
	s.done(w, r, me)
}

// done sends a browser without script back to the page.
func (s *site) done(w http.ResponseWriter, r *http.Request, me bot.Speaker) {
	if r.Header.Get("X-Quietly") != "" {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	http.Redirect(w, r, "/as/"+me.Account+"#line", http.StatusSeeOther)
}

func (s *site) refuse(w http.ResponseWriter, r *http.Request, me bot.Speaker, notice string) {
	if r.Header.Get("X-Quietly") != "" {
		http.Error(w, notice, http.StatusBadRequest)
		return
	}
	s.pageWith(w, me, http.StatusBadRequest, notice)
}

// live sends entries as they are made, rendered, as server-sent events (WHATWG HTML, section 9.2).
func (s *site) live(w http.ResponseWriter, r *http.Request) {
	me, ok := s.me(w, r)
	if !ok {
		return
	}
	after, _ := strconv.Atoi(cmp.Or(r.Header.Get("Last-Event-ID"), r.FormValue("after")))
	w.Header().Set("Content-Type", "text/event-stream")
	w.WriteHeader(http.StatusOK)
	flusher := http.NewResponseController(w)
	for {
		entries, changed := s.entries(me.Account, after)
		for _, e := range entries {
			var out bytes.Buffer
			if err := pages.ExecuteTemplate(&out, "entry", e); err != nil {
				s.config.Log.Error("an entry could not be made", "err", err)
				return
			}
			html := strings.ReplaceAll(strings.TrimSpace(out.String()), "\n", "\ndata: ")
			if _, err := fmt.Fprintf(w, "event: entry\nid: %d\ndata: %s\n\n", e.Number, html); err != nil {
				return
			}
			after = e.Number
		}
		if err := flusher.Flush(); err != nil {
			return
		}
		select {
		case <-changed:
		case <-r.Context().Done():
			return
		}
	}
}

func (s *site) complete(w http.ResponseWriter, r *http.Request) {
	me, ok := s.me(w, r)
	if !ok {
		return
	}
	words := s.talker.Complete(r.Context(), bot.Heard{Group: s.config.Group, From: me, Text: r.FormValue("line")})
	if words == nil {
		words = []string{}
	}
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(words)
}

func (s *site) picture(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	data, ok := s.pictures[r.PathValue("id")]
	s.mu.Unlock()
	if !ok {
		http.Error(w, "That picture is no longer kept. Ask for it again.", http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", "image/png")
	_, _ = w.Write(data)
}

func (s *site) file(name, kind string) http.HandlerFunc {
	data, err := files.ReadFile(name)
	if err != nil {
		panic(err) // embedded: a test opens it
	}
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		_, _ = w.Write(data)
	}
}

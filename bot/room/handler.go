package room

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"unicode/utf8"

	"spareounce/bot"
)

// Handler serves the room. Who one is stands in the address, so two windows can be two members.
func (r *Room) Handler(t Talker) http.Handler {
	s := &site{r, t}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.door)
	mux.HandleFunc("POST /join", s.join)
	mux.HandleFunc("GET /as/{account}", s.as(s.table))
	mux.HandleFunc("POST /as/{account}/say", s.as(s.say))
	mux.HandleFunc("POST /as/{account}/press", s.as(s.press))
	mux.HandleFunc("GET /as/{account}/live", s.as(s.live))
	mux.HandleFunc("GET /as/{account}/complete", s.as(s.complete))
	mux.HandleFunc("GET /picture/{id}/{name}", s.picture)
	mux.HandleFunc("GET /file/{id}/{name}", s.file)
	mux.HandleFunc("GET /room.css", file("page/room.css", "text/css; charset=utf-8"))
	mux.HandleFunc("GET /room.js", file("page/room.js", "text/javascript; charset=utf-8"))
	mux.HandleFunc("GET /mark.svg", file("page/mark.svg", "image/svg+xml"))
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.showDoor(w, r, http.StatusNotFound, "There is no such page in the room. Choose who you are to go on.", "")
	})
	return guard(mux)
}

// site is the room with somebody to talk to.
type site struct {
	*Room
	talker Talker
}

// addressOf is where a member sits.
func addressOf(account string) string { return "/as/" + url.PathEscape(account) }

// as finds out as whom a request is made; when there is no such member, the door is shown.
func (s *site) as(do func(http.ResponseWriter, *http.Request, bot.Speaker)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		account := r.PathValue("account")
		me, ok := s.people.one(account)
		if !ok {
			if err := s.people.meet(r.Context(), s.talker, s.config.Group); err != nil {
				s.config.Log.ErrorContext(r.Context(), "no members", "group", s.config.Group, "err", err)
				s.refuse(w, r, http.StatusServiceUnavailable, "The members can't be listed just now, and nothing was changed. Please try again in a moment.")
				return
			}
			if me, ok = s.people.one(account); !ok {
				s.refuse(w, r, http.StatusNotFound, "Nobody here goes by that. Choose who you are, or come in as someone new.")
				return
			}
		}
		do(w, r, me)
	}
}

// door lets people choose who they are.
func (s *site) door(w http.ResponseWriter, r *http.Request) { s.showDoor(w, r, http.StatusOK, "", "") }

func (s *site) showDoor(w http.ResponseWriter, r *http.Request, status int, trouble, name string) {
	if err := s.people.meet(r.Context(), s.talker, s.config.Group); err != nil {
		s.config.Log.ErrorContext(r.Context(), "no members", "group", s.config.Group, "err", err)
		if trouble == "" {
			status, trouble = http.StatusServiceUnavailable, "The members can't be listed just now. Please try again in a moment."
		}
	}
	s.render(w, status, "door", doorPage{Title: "Who are you?", Group: s.config.Name, People: s.tabs(""), Trouble: trouble, Typed: name})
}

// join lets somebody new in.
func (s *site) join(w http.ResponseWriter, r *http.Request) {
	if !readForm(w, r) {
		return
	}
	if err := s.people.meet(r.Context(), s.talker, s.config.Group); err != nil {
		s.showDoor(w, r, http.StatusServiceUnavailable, "", r.PostForm.Get("name"))
		return
	}
	me, err := s.people.join(r.PostForm.Get("name"), r.PostForm.Get("keeper") != "")
	if err != nil {
		s.showDoor(w, r, http.StatusUnprocessableEntity, err.Error(), r.PostForm.Get("name"))
		return
	}
	s.book.wakeAll() // the others' pages get a new name
	http.Redirect(w, r, addressOf(me.Account), http.StatusSeeOther)
}

// table is the page of one member.
func (s *site) table(w http.ResponseWriter, r *http.Request, me bot.Speaker) {
	if err := s.people.meet(r.Context(), s.talker, s.config.Group); err != nil {
		s.config.Log.ErrorContext(r.Context(), "no members", "group", s.config.Group, "err", err)
	}
	s.showTable(w, http.StatusOK, me, "", "")
}

func (s *site) showTable(w http.ResponseWriter, status int, me bot.Speaker, trouble, typed string) {
	lines, last, _ := s.lines(me.Account, 0)
	s.book.see(me.Account, last)
	s.render(w, status, "table", tablePage{
		Title: me.Name, Group: s.config.Name, Me: me, Address: addressOf(me.Account), People: s.tabs(me.Account),
		Lines: lines, Last: last, Quick: s.config.Quick, Trouble: trouble, Typed: typed,
	})
}

// say hears a typed line.
func (s *site) say(w http.ResponseWriter, r *http.Request, me bot.Speaker) {
	if !readForm(w, r) {
		return
	}
	typed := r.PostForm.Get("line")
	text := strings.TrimSpace(plain(typed))
	if n := utf8.RuneCountInString(text); n > longestLine {
		trouble := fmt.Sprintf("That line has %d characters, and %d fit. Nothing was said; please send it in pieces.", n, longestLine)
		if forScript(r) {
			http.Error(w, trouble, http.StatusRequestEntityTooLarge)
			return
		}
		s.showTable(w, http.StatusRequestEntityTooLarge, me, trouble, typed)
		return
	}
	if text != "" {
		s.hear(r.Context(), s.talker, me, text, r.PostForm.Get("alone") != "")
	}
	s.done(w, r, me)
}

// press hears a pressed button, which says its line to the bot alone. The line comes with the press, so a page from
// before a restart still works; what may be said is decided by who hears it, as with any line.
func (s *site) press(w http.ResponseWriter, r *http.Request, me bot.Speaker) {
	if !readForm(w, r) {
		return
	}
	says := strings.TrimSpace(plain(r.PostForm.Get("says")))
	if says == "" || utf8.RuneCountInString(says) > longestLine {
		s.refuse(w, r, http.StatusUnprocessableEntity, "That button says nothing that can be heard. Please type the line instead.")
		return
	}
	if number, err := strconv.ParseInt(r.PostForm.Get("entry"), 10, 64); err == nil {
		s.book.press(me.Account, number, says)
	}
	s.hear(r.Context(), s.talker, me, says, true)
	s.done(w, r, me)
}

// done ends a form: the script hears of it as an event, a browser without one is sent back to the page.
func (s *site) done(w http.ResponseWriter, r *http.Request, me bot.Speaker) {
	if forScript(r) {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	http.Redirect(w, r, addressOf(me.Account)+"#end", http.StatusSeeOther)
}

// refuse says why a request was not heard.
func (s *site) refuse(w http.ResponseWriter, r *http.Request, status int, trouble string) {
	if forScript(r) {
		http.Error(w, trouble, status)
		return
	}
	s.showDoor(w, r, status, trouble, "")
}

// complete offers lines for what is typed so far, as a JSON array of strings.
func (s *site) complete(w http.ResponseWriter, r *http.Request, me bot.Speaker) {
	offers := []string{}
	if typed := plain(r.URL.Query().Get("line")); utf8.RuneCountInString(typed) <= longestLine {
		offers = append(offers, s.talker.Complete(r.Context(), bot.Heard{Group: s.config.Group, From: me, Text: typed})...)
	}
	w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(w).Encode(offers); err != nil {
		s.config.Log.DebugContext(r.Context(), "no reader for completions", "err", err)
	}
}

// file serves a file to be saved: what it holds is never shown as a page of ours.
func (s *site) file(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Disposition", "attachment")
	s.picture(w, r)
}

// picture serves a picture or a file that is still kept. Its name in the address is only what a browser saves it under.
func (s *site) picture(w http.ResponseWriter, r *http.Request) {
	k, ok := s.book.look(r.PathValue("id"))
	if !ok {
		http.Error(w, "That is no longer kept. Please ask for it again.", http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", k.kind)
	w.Header().Set("Cache-Control", "private, max-age=86400, immutable")
	_, _ = w.Write(k.bytes) // a reader who left needs nothing
}

// forScript reports whether the page's script made a request: it reads a sentence or nothing, not a page.
func forScript(r *http.Request) bool {
	return r.Header.Get("Accept") == "text/plain" || r.Header.Get("Accept") == "text/event-stream" || r.Header.Get("Accept") == "application/json"
}

// readForm reads a posted form, or says why it can't be read.
func readForm(w http.ResponseWriter, r *http.Request) bool {
	err := r.ParseForm()
	if tooLarge, ok := errors.AsType[*http.MaxBytesError](err); ok {
		http.Error(w, fmt.Sprintf("That is more than can be read at once: %d bytes fit. Nothing was said; please go back and send it in pieces.", tooLarge.Limit), http.StatusRequestEntityTooLarge)
		return false
	}
	if err != nil {
		http.Error(w, "That form could not be read, and nothing was said. Please go back and try again.", http.StatusBadRequest)
	}
	return err == nil
}

package room

import (
	"bytes"
	"cmp"
	"embed"
	"html/template"
	"net/http"
	"net/url"
	"time"

	"spareounce/bot"
)

//go:embed page
var files embed.FS

var pages = template.Must(template.ParseFS(files, "page/*.html"))

// doorPage is where people choose who they are.
type doorPage struct {
	Title, Group   string
	People         []tab
	Trouble, Typed string
}

// tablePage is the day-book as one member reads it.
type tablePage struct {
	Title, Group   string
	Me             bot.Speaker
	Address        string
	People         []tab
	Lines          []written
	Last           int64
	Quick          []bot.Button
	Trouble, Typed string
}

// tab is a member's name on the edge of the book.
type tab struct {
	bot.Speaker
	Address string
	Unread  int
	Mine    bool
}

// tabs are all members, with what waits unread for each; the reader comes first.
func (r *Room) tabs(account string) []tab {
	unread := r.book.unread()
	var mine, others []tab
	for _, s := range r.people.all() {
		t := tab{Speaker: s, Address: addressOf(s.Account), Unread: unread[s.Account], Mine: s.Account == account}
		if t.Mine {
			t.Unread = 0 // being read
			mine = append(mine, t)
		} else {
			others = append(others, t)
		}
	}
	return append(mine, others...)
}

// written is an entry as the page shows it.
type written struct {
	Number       int64
	Day          string // the heading of a day, when this entry begins one
	Stamp, Clock string
	Name         string // "" for the bot
	Mine, Slip   bool
	Asked, Text  string
	Language     string
	Press        string // where its buttons are sent
	Buttons      []pushed
	Pictures     []framed
	Files        []framed
}

type pushed struct {
	bot.Button
	Pressed bool
}

type framed struct {
	Address, Alt  string // no address when the picture is no longer kept
	Width, Height int
}

// lines are what a member can read that is newer than an entry, with the number of the newest entry in the book and a
// channel that is closed when there is more.
func (r *Room) lines(account string, after int64) (list []written, last int64, changed <-chan struct{}) {
	all, last, changed := r.book.read(account)
	if after > last {
		after = 0 // of another book, whose clock was ahead of ours: whatever is shown twice is recognised by its number
	}
	day := ""
	for _, l := range all {
		at := l.at.In(r.config.Zone)
		today := at.Format("Monday 2 January 2006, MST")
		if l.number > after {
			w := r.written(l, account, at)
			if today != day {
				w.Day = today
			}
			list = append(list, w)
		}
		day = today
	}
	return list, last, changed
}

func (r *Room) written(l line, account string, at time.Time) written {
	w := written{
		Number: l.number, Stamp: at.Format(time.RFC3339), Clock: at.Format("15:04"), Name: l.from.Name,
		Mine: l.from.Account == account, Slip: l.slip, Asked: l.asked, Text: l.text, Language: l.language, Press: addressOf(account) + "/press",
	}
	for i, b := range l.buttons {
		w.Buttons = append(w.Buttons, pushed{b, l.pressed[i]})
	}
	for _, p := range l.pictures {
		f := framed{Alt: p.alt, Width: p.width, Height: p.height}
		if _, kept := r.book.look(p.id); kept {
			f.Address = "/picture/" + p.id + "/" + url.PathEscape(cmp.Or(p.name, "picture.png"))
		}
		w.Pictures = append(w.Pictures, f)
	}
	for _, p := range l.files {
		f := framed{Alt: cmp.Or(p.alt, p.name, "a file")}
		if _, kept := r.book.look(p.id); kept {
			f.Address = "/file/" + p.id + "/" + url.PathEscape(cmp.Or(p.name, "file"))
		}
		w.Files = append(w.Files, f)
	}
	return w
}

// render writes a whole page, or a plain apology when it can't be made.
func (r *Room) render(w http.ResponseWriter, status int, name string, data any) {
	var page bytes.Buffer
	if err := pages.ExecuteTemplate(&page, name, data); err != nil {
		r.config.Log.Error("no page", "page", name, "err", err)
		http.Error(w, "Something broke on our side: this page could not be written. Please go back and try again.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = page.WriteTo(w) // a reader who left needs no page
}

// file serves one of the page's own files.
func file(name, kind string) http.HandlerFunc {
	content, err := files.ReadFile(name)
	if err != nil {
		panic(err) // embedded, so it is there or no test passes
	}
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		_, _ = w.Write(content)
	}
}

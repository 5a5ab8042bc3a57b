package room

import (
	"bytes"
	"cmp"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"spareounce/bot"
)

const (
	beat        = 20 * time.Second // between signs of life on a quiet stream
	writeWithin = 10 * time.Second // a reader who takes less than we send for this long is let go, and comes back
)

// live sends what is new as it comes, rendered, as server-sent events (WHATWG HTML, section 9.2). Event "entry" is a line
// or a slip and has its number as id; event "people" is the members' names with what waits for each.
//
// Every reader reads the book at its own pace, from its own place in it. A reader who is slow delays nobody, and one who
// was lost comes back with the number of the last entry received.
func (s *site) live(w http.ResponseWriter, r *http.Request, me bot.Speaker) {
	after, err := strconv.ParseInt(cmp.Or(r.Header.Get("Last-Event-ID"), r.URL.Query().Get("after"), "0"), 10, 64)
	if err != nil {
		http.Error(w, "The place in the book is not a number. Please reload the page.", http.StatusBadRequest)
		return
	}
	stream := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	pulse := time.NewTicker(beat)
	defer pulse.Stop()
	var people []byte
	for first := true; ; first = false {
		lines, last, changed := s.lines(me.Account, after)
		var out bytes.Buffer
		if first {
			out.WriteString("retry: 1500\n\n")
		}
		for _, l := range lines {
			if err := event(&out, "entry", l, l.Number); err != nil {
				s.config.Log.ErrorContext(r.Context(), "no entry", "number", l.Number, "err", err)
			}
		}
		var now bytes.Buffer
		if err := event(&now, "people", s.tabs(me.Account), 0); err != nil {
			s.config.Log.ErrorContext(r.Context(), "no people", "err", err)
		}
		if !bytes.Equal(people, now.Bytes()) {
			people = now.Bytes()
			out.Write(people)
		}
		if !send(w, stream, out.Bytes()) {
			return
		}
		after = last
		s.book.see(me.Account, last)
		for waiting := true; waiting; {
			select {
			case <-changed:
				waiting = false
			case <-pulse.C:
				if !send(w, stream, []byte(": still here\n\n")) {
					return
				}
			case <-r.Context().Done():
				return
			}
		}
	}
}

// event writes one event with a rendered template as its data. An id of 0 is none.
func event(out *bytes.Buffer, name string, data any, id int64) error {
	var page bytes.Buffer
	if err := pages.ExecuteTemplate(&page, name, data); err != nil {
		return err
	}
	fmt.Fprintf(out, "event: %s\n", name)
	if id != 0 {
		fmt.Fprintf(out, "id: %d\n", id)
	}
	for row := range bytes.Lines(bytes.TrimSpace(page.Bytes())) {
		fmt.Fprintf(out, "data: %s\n", bytes.TrimSuffix(row, []byte("\n")))
	}
	out.WriteByte('\n')
	return nil
}

// send writes to a stream; false when its reader is gone or too slow.
func send(w http.ResponseWriter, stream *http.ResponseController, data []byte) bool {
	_ = stream.SetWriteDeadline(time.Now().Add(writeWithin)) // not every test's writer has deadlines
	if _, err := w.Write(data); err != nil {
		return false
	}
	return stream.Flush() == nil
}

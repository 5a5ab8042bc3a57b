package room

import (
	"bytes"
	"crypto/rand"
	"image/png"

	"spareounce/bot"
)

// hung is a picture of an entry: where it hangs, and the words that stand for it.
type hung struct {
	id            string // cannot be guessed; "" when the picture could not be kept
	name, alt     string
	width, height int // pixels; they hold its place on the page
}

// wall keeps pictures in memory, the oldest going first when it is full. The zero wall is empty.
type wall struct {
	kept  map[string][]byte // by id
	order []string          // oldest first
	size  int               // bytes of all
}

// hang keeps a picture. What is no PNG, or larger than the whole wall, is not kept; its words still are.
func (w *wall) hang(p bot.Picture) hung {
	h := hung{name: plain(p.Name), alt: plain(p.Alt)}
	about, err := png.DecodeConfig(bytes.NewReader(p.PNG))
	if err != nil || len(p.PNG) > mostPictureBytes {
		return h
	}
	h.id, h.width, h.height = rand.Text(), about.Width, about.Height
	if w.kept == nil {
		w.kept = map[string][]byte{}
	}
	w.kept[h.id], w.order, w.size = p.PNG, append(w.order, h.id), w.size+len(p.PNG)
	for w.size > mostPictureBytes {
		w.size -= len(w.kept[w.order[0]])
		delete(w.kept, w.order[0])
		w.order = w.order[1:]
	}
	return h
}

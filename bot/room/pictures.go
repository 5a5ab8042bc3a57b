package room

import (
	"bytes"
	"crypto/rand"
	"image/png"

	"spareounce/bot"
)

// hung is a picture or a file of an entry: where it hangs, and the words that stand for it.
type hung struct {
	id            string // cannot be guessed; "" when it could not be kept
	name, alt     string
	width, height int // of a picture in pixels; they hold its place on the page
}

// kept is what hangs somewhere.
type kept struct {
	kind  string // media type
	bytes []byte
}

// wall keeps pictures and files in memory, the oldest going first when it is full. The zero wall is empty.
type wall struct {
	kept  map[string]kept // by id
	order []string        // oldest first
	size  int             // bytes of all
}

// hang keeps a picture. What is no PNG, or larger than the whole wall, is not kept; its words still are.
func (w *wall) hang(p bot.Picture) hung {
	h := hung{name: plain(p.Name), alt: plain(p.Alt)}
	about, err := png.DecodeConfig(bytes.NewReader(p.PNG))
	if err != nil {
		return h
	}
	h.id, h.width, h.height = w.keep(kept{"image/png", p.PNG}), about.Width, about.Height
	return h
}

// pin keeps a file.
func (w *wall) pin(f bot.File) hung {
	return hung{id: w.keep(kept{f.Type, f.Bytes}), name: plain(f.Name), alt: plain(f.About)}
}

// keep gives what is kept an id, and "" to what is larger than the whole wall.
func (w *wall) keep(k kept) (id string) {
	if len(k.bytes) > mostPictureBytes {
		return ""
	}
	if w.kept == nil {
		w.kept = map[string]kept{}
	}
	id = rand.Text()
	w.kept[id], w.order, w.size = k, append(w.order, id), w.size+len(k.bytes)
	for w.size > mostPictureBytes {
		w.size -= len(w.kept[w.order[0]].bytes)
		delete(w.kept, w.order[0])
		w.order = w.order[1:]
	}
	return id
}

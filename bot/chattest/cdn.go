package chattest

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"mime"
	"net/http"
	"path"
	"strconv"
	"strings"
	"time"
)

// urlLife is for how long a signed attachment URL works; Discord's last about a day (from memory).
const urlLife = 24 * time.Hour

// A storedFile is an attachment on the CDN.
type storedFile struct {
	id, name, kind, description, url string
	data                             []byte
	ephemeral                        bool
}

// A File is what a member attaches.
type File struct {
	Name string
	Type string // the content type; guessed from the name if empty
	Data []byte
	Size int    // the size that is told; that of Data if 0. A lie shows whether the bot checks what it fetches.
	Host string // the host in its URL; the CDN's if empty. A lie shows whether the bot checks whom it asks.
}

// The folders of the CDN: what is attached to interactions is kept apart.
const (
	attachments          = "attachments"
	ephemeralAttachments = "ephemeral-attachments"
)

// store puts a file on the CDN. The caller holds s.mu.
func (s *Server) store(c *Channel, folder, name, kind string, data []byte) *storedFile {
	if kind == "" || kind == "application/octet-stream" {
		kind = mime.TypeByExtension(path.Ext(name))
	}
	f := &storedFile{id: s.newID(), name: name, kind: kind, data: data}
	where := fmt.Sprintf("/%s/%s/%s/%s", folder, c.ID, f.id, name)
	now := s.settings.now()
	ex, is := strconv.FormatInt(now.Add(urlLife).Unix(), 16), strconv.FormatInt(now.Unix(), 16)
	f.url = fmt.Sprintf("https://%s%s?ex=%s&is=%s&hm=%s&", cdnHost, where, ex, is, sign(where, ex, is))
	s.files[where] = f
	if len(s.files) > s.settings.keep {
		s.forgetFile()
	}
	return f
}

// forgetFile drops the oldest file.
func (s *Server) forgetFile() {
	oldest, id := "", ""
	for where, f := range s.files {
		if id == "" || byID(f.id, id) < 0 {
			oldest, id = where, f.id
		}
	}
	if f := s.files[oldest]; f != nil {
		f.data = nil // messages that are still remembered show that it was there
	}
	delete(s.files, oldest)
}

func sign(parts ...string) string {
	h := hmac.New(sha256.New, []byte("chattest"))
	h.Write([]byte(strings.Join(parts, "\x00")))
	return hex.EncodeToString(h.Sum(nil))
}

func (f *storedFile) wire(s *Server) object {
	o := object{"id": f.id, "filename": f.name, "size": len(f.data), "url": f.url, "proxy_url": strings.Replace(f.url, cdnHost, mediaHost, 1)}
	if f.kind != "" {
		o["content_type"] = f.kind
	}
	if f.description != "" {
		o["description"] = f.description
	}
	if f.ephemeral {
		o["ephemeral"] = true
	}
	return o
}

// serveFile answers for the CDN: with the file if the URL is signed and fresh, else with 404 as the CDN does.
func (s *Server) serveFile(w http.ResponseWriter, r *http.Request) {
	fault := s.faultFor(r.Method, r.URL.Path)
	if fault.before(w, r) {
		return
	}
	q := r.URL.Query()
	ends, err := strconv.ParseInt(q.Get("ex"), 16, 64)
	s.mu.Lock()
	f := s.files[r.URL.Path]
	var data []byte
	if f != nil {
		data = f.data
	}
	s.mu.Unlock()
	signed := hmac.Equal([]byte(sign(r.URL.Path, q.Get("ex"), q.Get("is"))), []byte(q.Get("hm")))
	if f == nil || err != nil || !signed || s.settings.now().Unix() > ends {
		http.Error(w, "This content is no longer available.", http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", f.kind)
	_, _ = w.Write(data) // a client that stops reading has its reasons
}

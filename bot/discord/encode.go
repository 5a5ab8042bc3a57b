package discord

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"mime/multipart"
	"net/http/httptrace"
	"net/textproto"
	"strings"
	"sync/atomic"
)

// encode writes the body of a request: JSON, or a form with files and the JSON beside them (Discord, Reference, Uploading
// Files).
func (c call) encode() (form []byte, kind string, err error) {
	if c.body == nil && len(c.files) == 0 {
		return nil, "", nil
	}
	text, err := plainJSON(c.body)
	if err != nil {
		return nil, "", err
	}
	if len(c.files) == 0 {
		return text, "application/json", nil
	}
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	part := func(name, file, kind string, data []byte) error {
		h := textproto.MIMEHeader{}
		disposition := fmt.Sprintf(`form-data; name=%q`, name)
		if file != "" {
			disposition += fmt.Sprintf(`; filename=%q`, file)
		}
		h.Set("Content-Disposition", disposition)
		h.Set("Content-Type", kind)
		p, err := w.CreatePart(h)
		if err != nil {
			return err
		}
		_, err = p.Write(data)
		return err
	}
	if err := part("payload_json", "", "application/json", text); err != nil {
		return nil, "", err
	}
	for i, f := range c.files {
		if err := part(fmt.Sprintf("files[%d]", i), fileName(f.name), f.kind, f.data); err != nil {
			return nil, "", err
		}
	}
	if err := w.Close(); err != nil {
		return nil, "", err
	}
	return b.Bytes(), w.FormDataContentType(), nil
}

// fileName is a name that every part of the way takes: ASCII letters, digits, dots, dashes and underscores.
func fileName(name string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case 'a' <= r && r <= 'z', 'A' <= r && r <= 'Z', '0' <= r && r <= '9', r == '.', r == '-', r == '_':
			return r
		}
		return '_'
	}, name)
}

// plainJSON is JSON without the escapes that are meant for web pages: each would cost six bytes of a message's length.
func plainJSON(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSpace(b.Bytes()), nil
}

// tracing notes when a request begins to be sent: before that, a fault is known to have had no effect.
func tracing(ctx context.Context, sent *atomic.Bool) context.Context {
	return httptrace.WithClientTrace(ctx, &httptrace.ClientTrace{WroteHeaders: func() { sent.Store(true) }})
}

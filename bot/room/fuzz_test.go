package room

import (
	"bufio"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"spareounce/bot"
)

// Whatever is typed, and under whatever name, comes out of the live stream as one event whose fragment has the same
// elements and attributes as that of a harmless line, and whose text is what was typed. The stream is read as WHATWG
// HTML, section 9.2.6, says, the fragment by the standard library's XML reader, neither of which wrote them.
func FuzzWhatIsSaidStaysText(f *testing.F) {
	for _, seed := range []string{
		"want harbour 82-86, ND", "", "<script>alert(1)</script>", `"><img src=x onerror=alert(1)>`, "</li></ol>",
		"a\n\ndata: b\nid: 7\n\nevent: people", "a\rb\r\nc", "\x00\x1b[2J", "\xff\xfe", "&amp; &lt;", "{{.Text}}", "javascript:alert(1)",
		"أريد harbour 87", "\u202egnp.eno", "\u2028\u2029", "  two  spaces  ", "`${1}`", "]]>",
	} {
		f.Add(seed, seed)
	}
	f.Fuzz(func(t *testing.T, name, text string) {
		for _, c := range name + text {
			if c == 0xFFFE || c == 0xFFFF {
				t.Skip("no characters of XML, so that its reader is no judge")
			}
		}
		harmless, _ := fragment(t, "Ann", "want harbour 85")
		shape, words := fragment(t, name, text)
		if !slices.Equal(shape, harmless) {
			t.Errorf("the page has %q,\nfor a harmless line %q", shape, harmless)
		}
		for _, want := range []string{plain(text), oneLine(name)} {
			if !slices.Contains(words, want) {
				t.Errorf("the words %q are not among %q", want, words)
			}
		}
	})
}

// fragment is the shape and the words of one entry as a reader of the stream gets it. The marks keep what is written
// from being empty, which is shown another way.
func fragment(t *testing.T, name, text string) (shape, words []string) {
	t.Helper()
	r := newRoom(t)
	who := bot.Speaker{Account: "ann", Name: "." + oneLine(name)}
	button := bot.Button{Label: "." + text, Says: "." + text}
	r.book.say(r.entry(who, bot.Reply{Text: "." + text, Buttons: []bot.Button{button}}))
	lines, _, _ := r.lines("bo", 0)
	var stream bytes.Buffer
	if err := event(&stream, "entry", lines[0], lines[0].Number); err != nil {
		t.Fatal(err)
	}
	events := readStream(t, &stream)
	if len(events) != 1 {
		t.Fatalf("one entry came as %d events", len(events))
	}
	page := xml.NewDecoder(strings.NewReader(events[0]))
	page.Strict, page.AutoClose, page.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		token, err := page.Token()
		if errors.Is(err, io.EOF) {
			return shape, words
		}
		if err != nil {
			t.Fatalf("%v in %s", err, events[0])
		}
		switch token := token.(type) {
		case xml.StartElement:
			shape = append(shape, token.Name.Local)
			for _, a := range token.Attr {
				shape = append(shape, token.Name.Local+" "+a.Name.Local)
			}
		case xml.EndElement:
			shape = append(shape, "/"+token.Name.Local)
		case xml.CharData:
			if said, ok := strings.CutPrefix(string(token), "."); ok {
				words = append(words, said)
			}
		}
	}
}

// readStream reads the data of each event of an ended stream.
func readStream(t *testing.T, stream io.Reader) (events []string) {
	t.Helper()
	var data []string
	rows := bufio.NewScanner(stream)
	rows.Buffer(nil, 1<<24)
	for rows.Scan() {
		field, value, _ := strings.Cut(rows.Text(), ":")
		switch field {
		case "data":
			data = append(data, strings.TrimPrefix(value, " "))
		case "event", "id", "retry":
		case "":
			if rows.Text() == "" && data != nil {
				events, data = append(events, strings.Join(data, "\n")), nil
			}
		default:
			t.Errorf("the stream has a field %q", field)
		}
	}
	if rows.Err() != nil {
		t.Fatal(rows.Err())
	}
	return events
}

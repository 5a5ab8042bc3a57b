package discord

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"pgregory.net/rapid"

	"spareounce/bot/chattest"
)

// TestAMaskedFrameIsRead reads the example of RFC 6455, section 5.7: "a single-frame masked text message".
func TestAMaskedFrameIsRead(t *testing.T) {
	t.Parallel()
	frame, err := hex.DecodeString("818537fa213d7f9f4d5158")
	if err != nil {
		t.Fatal(err)
	}
	if kind, payload, ok := ownFrame(frame); !ok || kind != textFrame || string(payload) != "Hello" {
		t.Errorf("%d %q %v", kind, payload, ok)
	}
	for _, not := range []string{"", "GET / HTTP/1.1\r\n\r\n", "\x81\x05Hello", string(frame[:8]), string(frame) + "x"} {
		if kind, payload, ok := ownFrame([]byte(not)); ok {
			t.Errorf("%q is taken for a frame: %d %q", not, kind, payload)
		}
	}
}

// TestFramesGoThereAndBack reads what it made, of any size.
func TestFramesGoThereAndBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOfN(rapid.Byte(), 0, 5000).Draw(t, "payload")
		if kind, got, ok := ownFrame(clientFrame(textFrame, want)); !ok || kind != textFrame || !bytes.Equal(got, want) {
			t.Errorf("%d, %d bytes for %d, %v", kind, len(got), len(want), ok)
		}
	})
}

// TestALibraryReadsWhatWeSay has a websocket library at both ends, and a wire between them: the other end reads a RESUME for
// the IDENTIFY, a goodbye that leaves the session alone, and all else as it was said.
func TestALibraryReadsWhatWeSay(t *testing.T) {
	t.Parallel()
	heard := make(chan string, 10)
	there := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ws, err := (&websocket.Upgrader{}).Upgrade(w, r, nil)
		if err != nil {
			return // the client failed, and says so
		}
		defer ws.Close()
		for {
			_, data, err := ws.ReadMessage()
			if end, ok := err.(*websocket.CloseError); ok {
				heard <- fmt.Sprint("websocket: close ", end.Code)
			}
			if err != nil {
				return
			}
			heard <- string(data)
		}
	}))
	t.Cleanup(there.Close)
	p := &place{}
	p.begin(json.RawMessage(`{"session_id":"abc","resume_gateway_url":"wss://there"}`))
	p.reached(7)
	p.reached(6)
	identified := false
	d := dialer(func(c net.Conn) net.Conn {
		w := newWire(c, signals{closed: func() {}, identified: func() { identified = true }})
		w.answer, w.resume = time.Minute, func() []byte { return p.resume("tok") }
		return w
	})
	ws, _, err := d.Dial("ws"+strings.TrimPrefix(there.URL, "http"), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer ws.Close()
	for _, say := range []string{`{"op":1,"d":5}`, `{"op":2,"d":{"token":"tok"}}`, "no JSON"} {
		if err := ws.WriteMessage(websocket.TextMessage, []byte(say)); err != nil {
			t.Fatal(err)
		}
	}
	if err := ws.WriteMessage(websocket.CloseMessage, websocket.FormatCloseMessage(1000, "")); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`{"op":1,"d":5}`, `{"d":{"seq":7,"session_id":"abc","token":"tok"},"op":6}`, "no JSON", "websocket: close 4000"} {
		if got := <-heard; got != want {
			t.Errorf("heard %s, want %s", got, want)
		}
	}
	if identified {
		t.Error("a RESUME counts as an IDENTIFY")
	}
}

// TestAHeartbeatIsAnsweredSoon has the peer fall silent: that is noticed with the next heartbeat, not after two.
func TestAHeartbeatIsAnsweredSoon(t *testing.T) {
	t.Parallel()
	const every = 6 * time.Second
	tb := prepare(t, 4, chattest.WithHeartbeat(every))
	tb.timing = func(tm *timing) { tm.heartbeat = 500 * time.Millisecond }
	tb.open().connected()
	tb.hears("ann")
	began := time.Now()
	tb.HalfOpen()
	tb.resumed(1)
	if took := time.Since(began); took > every+3*time.Second {
		t.Errorf("noticed after %v", took)
	}
	tb.hears("bo")
}

package chattest_test

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"spareounce/bot/chattest"
)

// A bare is the plainest client there can be: HTTP and a websocket, and nothing done unasked.
type bare struct {
	t     testing.TB
	srv   *chattest.Server
	ws    *websocket.Conn
	seq   *int64
	sess  string
	again string // where the session is resumed
}

type object = map[string]any

// A payload is one gateway payload.
type payload struct {
	Op int             `json:"op"`
	D  json.RawMessage `json:"d"`
	S  *int64          `json:"s,omitempty"`
	T  string          `json:"t,omitempty"`
}

// join identifies with the guilds intent, and waits for READY.
func join(t testing.TB, srv *chattest.Server) *bare {
	t.Helper()
	b := dial(t, srv, "")
	b.expect(10)
	b.send(2, object{"token": chattest.Token, "intents": 1, "properties": object{"os": "linux", "browser": "bare", "device": "bare"}})
	p := b.event("READY")
	var ready struct {
		Session string `json:"session_id"`
		Again   string `json:"resume_gateway_url"`
	}
	if err := json.Unmarshal(p.D, &ready); err != nil {
		t.Fatal(err)
	}
	b.sess, b.again = ready.Session, ready.Again
	return b
}

// dial opens the gateway and says nothing.
func dial(t testing.TB, srv *chattest.Server, query string) *bare {
	t.Helper()
	return dialAt(t, srv, "ws"+strings.TrimPrefix(srv.URL(), "http"), query)
}

// dialAt opens the gateway at an address and says nothing.
func dialAt(t testing.TB, srv *chattest.Server, address, query string) *bare {
	t.Helper()
	url := address + "/?v=10&encoding=json" + query
	ws, _, err := websocket.DefaultDialer.Dial(url, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { ws.Close() })
	return &bare{t: t, srv: srv, ws: ws}
}

func (b *bare) send(op int, d any) {
	b.t.Helper()
	if err := b.ws.WriteJSON(object{"op": op, "d": d}); err != nil {
		b.t.Fatal(err)
	}
}

// read gives the next payload.
func (b *bare) read() (payload, error) {
	_ = b.ws.SetReadDeadline(time.Now().Add(5 * time.Second))
	var p payload
	err := b.ws.ReadJSON(&p)
	if p.S != nil {
		b.seq = p.S
	}
	return p, err
}

func (b *bare) expect(op int) payload {
	b.t.Helper()
	p, err := b.read()
	if err != nil || p.Op != op {
		b.t.Fatalf("got opcode %d (%s), %v; want opcode %d", p.Op, p.T, err, op)
	}
	return p
}

// event reads until an event of that name comes.
func (b *bare) event(name string) payload {
	b.t.Helper()
	for {
		p, err := b.read()
		if err != nil {
			b.t.Fatalf("waiting for %s: %v", name, err)
		}
		if p.T == name {
			return p
		}
	}
}

// closed reads until the connection ends, and gives the close code; -1 if it ended without one.
func (b *bare) closed() int {
	for {
		if _, err := b.read(); err != nil {
			if c, ok := err.(*websocket.CloseError); ok && c.Code != websocket.CloseAbnormalClosure {
				return c.Code
			}
			return -1
		}
	}
}

// do sends a request with the bot's token, and gives the status and the answer's JSON.
func (b *bare) do(method, path string, body any) (int, object) {
	b.t.Helper()
	status, data := call(b.t, b.srv, method, path, body)
	out := object{}
	_ = json.Unmarshal(data, &out) // lists stay empty
	return status, out
}

func call(t testing.TB, srv *chattest.Server, method, path string, body any) (int, []byte) {
	t.Helper()
	var r io.Reader
	if body != nil {
		data, err := json.Marshal(body)
		if err != nil {
			t.Fatal(err)
		}
		r = bytes.NewReader(data)
	}
	req, err := http.NewRequest(method, "https://discord.com/api/v10"+path, r)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bot "+chattest.Token)
	req.Header.Set("User-Agent", "DiscordBot (https://example.org, 1)")
	if body != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	resp, err := srv.Client().Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	data, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, data
}

// interaction reads the next interaction, and gives its id and token.
func (b *bare) interaction() (id, token string, whole object) {
	b.t.Helper()
	p := b.event("INTERACTION_CREATE")
	if err := json.Unmarshal(p.D, &whole); err != nil {
		b.t.Fatal(err)
	}
	return whole["id"].(string), whole["token"].(string), whole
}

// answer sends a callback.
func (b *bare) answer(id, token string, body object) (int, object) {
	b.t.Helper()
	return b.do("POST", "/interactions/"+id+"/"+token+"/callback", body)
}

// register overwrites the global commands.
func (b *bare) register(commands ...object) {
	b.t.Helper()
	if status, data := call(b.t, b.srv, "PUT", "/applications/"+b.srv.ApplicationID()+"/commands", commands); status != 200 {
		b.t.Fatalf("%d %s", status, data)
	}
}

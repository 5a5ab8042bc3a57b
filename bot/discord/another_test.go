package discord

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"spareounce/bot"
	"spareounce/store"
	"spareounce/store/storetest"
)

// bareService speaks as little of the protocol as is documented to be there for certain, and nothing of the stand-in's: no
// limits in headers, no compression, no shard and no servers in READY, answers with nothing in them but ids.
type bareService struct {
	*httptest.Server
	t       *testing.T
	answers chan map[string]any
	mu      sync.Mutex
	conn    *websocket.Conn
	ready   chan struct{}
}

func newBareService(t *testing.T) *bareService {
	b := &bareService{t: t, answers: make(chan map[string]any, 16), ready: make(chan struct{})}
	mux := http.NewServeMux()
	reply := func(pattern, body string) {
		mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			if r.Header.Get("Authorization") != "Bot MTIz.a.b" {
				w.WriteHeader(http.StatusUnauthorized)
				return
			}
			_, _ = io.WriteString(w, body)
		})
	}
	mux.HandleFunc("GET /api/v10/gateway/bot", func(w http.ResponseWriter, r *http.Request) {
		_ = json.NewEncoder(w).Encode(map[string]any{"url": "ws" + strings.TrimPrefix(b.URL, "http") + "/ws", "shards": 1})
	})
	reply("PUT /api/v10/applications/123/commands", `[]`)
	reply("POST /api/v10/users/@me/channels", `{"id":55}`)
	reply("POST /api/v10/channels/55/messages", `{"id":56}`)
	mux.HandleFunc("POST /api/v10/interactions/{id}/{token}/callback", func(w http.ResponseWriter, r *http.Request) {
		var body map[string]any
		if err := json.NewDecoder(r.Body).Decode(&body); err != nil {
			t.Error(err)
		}
		b.answers <- body
		w.WriteHeader(http.StatusNoContent)
	})
	mux.HandleFunc("GET /ws", b.gateway)
	b.Server = httptest.NewServer(mux)
	t.Cleanup(func() { b.CloseClientConnections(); b.Close() })
	return b
}

// gateway greets, takes an IDENTIFY, says READY and acknowledges heartbeats.
func (b *bareService) gateway(w http.ResponseWriter, r *http.Request) {
	c, err := (&websocket.Upgrader{}).Upgrade(w, r, nil)
	if err != nil {
		return
	}
	defer c.Close()
	b.mu.Lock()
	b.conn = c
	b.mu.Unlock()
	b.send(`{"op":10,"d":{"heartbeat_interval":41250}}`)
	for {
		var said struct {
			Op   int `json:"op"`
			Data struct {
				Token string `json:"token"`
			} `json:"d"`
		}
		_, text, err := c.ReadMessage()
		if err != nil {
			return
		}
		_ = json.Unmarshal(text, &said) // a heartbeat's data is a number
		switch said.Op {
		case 1:
			b.send(`{"op":11}`)
		case 2:
			if said.Data.Token != "MTIz.a.b" {
				b.t.Errorf("the token %q", said.Data.Token)
			}
			b.send(`{"op":0,"s":1,"t":"READY","d":{"v":10,"user":{"id":"123","username":"spareounce"},"guilds":[],"session_id":"s","application":{"id":"123"}}}`)
			b.send(`{"op":0,"s":2,"t":"GUILD_CREATE","d":{"id":"77","name":"Mill Pond Swaps","channels":[{"type":99}]}}`)
			close(b.ready)
		}
	}
}

func (b *bareService) send(text string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	_ = b.conn.WriteMessage(websocket.TextMessage, []byte(text))
}

// asks has a member use a command, and waits for the answer's text.
func (b *bareService) asks(n int, data string) string {
	b.t.Helper()
	b.send(fmt.Sprintf(`{"op":0,"s":%d,"t":"INTERACTION_CREATE","d":{"id":"%d","application_id":"123","type":2,"token":"tok%d","guild_id":"77","channel_id":"78","version":1,`+
		`"member":{"user":{"id":"9","username":"ann"},"permissions":"32"},"data":%s}}`, n+2, n, n, data))
	select {
	case answer := <-b.answers:
		said, _ := answer["data"].(map[string]any)
		text, _ := said["content"].(string)
		return text
	case <-time.After(20 * time.Second):
		b.t.Fatalf("%s is not answered", data)
		return ""
	}
}

// TestAnotherServerThatSpeaksTheProtocol serves members through a server that is not the stand-in: what we rest on is the
// protocol, and not what the stand-in happens to do besides.
func TestAnotherServerThatSpeaksTheProtocol(t *testing.T) {
	t.Parallel()
	there := newBareService(t)
	log := slog.New(slog.NewTextHandler(io.Discard, nil))
	st, err := store.Open(t.Context(), storetest.Database(t), time.Now, log)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	config := Config{Token: "MTIz.a.b", API: there.URL, Log: log}
	if wrong := append(config.CheckToken(), config.Check()...); len(wrong) > 0 {
		t.Fatal(wrong)
	}
	chat := New(config)
	b := bot.New(st, chat, time.Now, log)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	ended := make(chan error, 1)
	go func() { ended <- chat.Run(ctx, b) }()
	select {
	case <-there.ready:
	case <-time.After(20 * time.Second):
		t.Fatal("the bot never came")
	}
	for n, c := range [][2]string{
		{`{"name":"zone","type":1,"options":[{"name":"zone","type":3,"value":"Europe/Lisbon"}]}`, "The group's clock is Europe/Lisbon"},
		{`{"id":1,"name":"trades"}`, "You stand in no open trade"},
		{`{"name":"reach","options":[{"name":"how","type":3,"value":"message"}]}`, "in a private message"},
	} {
		if said := asShown(there.asks(n+1, c[0])); !strings.Contains(said, c[1]) {
			t.Errorf("%s: %s", c[0], said)
		}
	}
	if err := chat.Tell(t.Context(), "77", "9", bot.Reply{Text: "A piece came up.", Key: "n1"}); err != nil {
		t.Error(err)
	}
	if groups, err := b.Groups(t.Context()); err != nil || len(groups) != 1 {
		t.Error(groups, err)
	}
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

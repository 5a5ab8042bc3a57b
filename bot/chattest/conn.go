package chattest

import (
	"bytes"
	"compress/zlib"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"sync"
	"time"

	"github.com/gorilla/websocket"
)

// largestPayload is the most that a client may send to the gateway in one payload.
const largestPayload = 4096

// sendsPerMinute is how many payloads a client may send to the gateway in 60 seconds.
const sendsPerMinute = 120

// A conn is one websocket connection of the gateway.
type conn struct {
	s       *Server
	ws      *websocket.Conn
	r       *http.Request
	session *session // set once, by read, with s.mu held
	done    chan struct{}
	written chan struct{} // closed when nothing more will be sent

	reconnectFirst bool  // opcode 7 comes where READY or RESUMED should
	refuses        *bool // a RESUME is answered with opcode 9 and this; nil when it is taken

	mu      sync.Mutex
	queue   [][]byte
	more    chan struct{} // holds one when the queue is not empty
	quit    chan struct{}
	stopped bool
	deaf    bool // half-open: neither reads nor writes reach the other side
	broken  bool // cut
	ended   bool // the session must not outlive this connection
	closing []byte

	compress bool // whole payloads, asked for in IDENTIFY
	stream   *zlib.Writer
	streamed bytes.Buffer
	sent     []time.Time // by the client
}

func newConn(s *Server, ws *websocket.Conn, r *http.Request) *conn {
	c := &conn{s: s, ws: ws, r: r, done: make(chan struct{}), written: make(chan struct{}), more: make(chan struct{}, 1), quit: make(chan struct{})}
	ws.SetCloseHandler(func(int, string) error { return nil }) // read sees to it, for what is queued comes first
	if r.URL.Query().Get("compress") == "zlib-stream" {
		c.stream = zlib.NewWriter(&c.streamed)
	}
	return c
}

// send queues a payload; it never blocks. After a close nothing more is sent.
func (c *conn) send(raw []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.stopped || c.deaf || c.closing != nil {
		return
	}
	c.queue = append(c.queue, raw)
	select {
	case c.more <- struct{}{}:
	default:
	}
}

// close ends the connection with a code, after all that is queued.
func (c *conn) close(code int, reason string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closing == nil {
		c.closing = websocket.FormatCloseMessage(code, reason)
	}
	select {
	case c.more <- struct{}{}:
	default:
	}
}

// cut ends the connection as a broken cable does.
func (c *conn) cut() {
	c.mu.Lock()
	c.broken = true
	c.mu.Unlock()
	_ = c.ws.NetConn().Close() // already closed is as good
}

// carries reports whether what is sent now can arrive.
func (c *conn) carries() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return !c.deaf && !c.broken && c.closing == nil
}

// hush makes the connection half-open: it stays, and nothing passes any more.
func (c *conn) hush() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.deaf, c.queue = true, nil
}

// end marks the session as one that cannot be resumed.
func (c *conn) end() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.ended = true
}

func (c *conn) hasEnded() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.ended
}

func (c *conn) isDeaf() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.deaf
}

// stop ends the writer.
func (c *conn) stop() {
	c.mu.Lock()
	if !c.stopped {
		c.stopped = true
		close(c.quit)
	}
	c.mu.Unlock()
	c.cut()
}

// write sends what is queued until the connection ends.
func (c *conn) write() {
	defer close(c.written)
	for {
		select {
		case <-c.quit:
			return
		case <-c.more:
		}
		c.mu.Lock()
		queue, closing := c.queue, c.closing
		c.queue = nil
		c.mu.Unlock()
		for _, raw := range queue {
			kind, data := c.pack(raw)
			if c.ws.WriteMessage(kind, data) != nil {
				c.cut()
				return
			}
		}
		if closing != nil {
			_ = c.ws.WriteControl(websocket.CloseMessage, closing, time.Now().Add(time.Second)) // then cut all the same
			_ = c.ws.SetReadDeadline(time.Now().Add(time.Second))                               // for the client's half of it
			return
		}
	}
}

// pack compresses a payload if the client asked for it: as one stream over all (zlib-stream), or each by itself.
func (c *conn) pack(raw []byte) (int, []byte) {
	c.mu.Lock()
	whole := c.compress
	c.mu.Unlock()
	switch {
	case c.stream != nil:
		c.streamed.Reset()
		_, _ = c.stream.Write(raw) // into memory
		_ = c.stream.Flush()
		return websocket.BinaryMessage, slices.Clone(c.streamed.Bytes())
	case whole:
		var b bytes.Buffer
		z := zlib.NewWriter(&b)
		_, _ = z.Write(raw)
		_ = z.Close()
		return websocket.BinaryMessage, b.Bytes()
	}
	return websocket.TextMessage, raw
}

// read takes what the client sends until the connection ends. A client that misses its heartbeats is
// closed, and may resume.
func (c *conn) read() {
	grace := c.s.settings.heartbeat + c.s.settings.heartbeat/2
	beat := time.AfterFunc(grace, func() {
		c.close(CloseUnknown, "Heartbeat missed.")
	})
	defer beat.Stop()
	for {
		_, data, err := c.ws.ReadMessage()
		if err != nil {
			var end *websocket.CloseError
			if errors.As(err, &end) && (end.Code == websocket.CloseNormalClosure || end.Code == websocket.CloseGoingAway) {
				c.end()
			}
			if end != nil && end.Code != websocket.CloseAbnormalClosure && !c.isDeaf() {
				c.close(end.Code, "")
				select {
				case <-c.written:
				case <-time.After(5 * time.Second):
				}
			}
			return
		}
		if c.isDeaf() {
			continue
		}
		var f frame
		switch {
		case len(data) > largestPayload:
			c.s.problem("a gateway payload of more than 4096 bytes")
			c.close(CloseDecode, "Error while decoding payload.")
		case json.Unmarshal(data, &f) != nil:
			c.s.problem("a gateway payload that is no JSON: " + shorten(data))
			c.close(CloseDecode, "Error while decoding payload.")
		case c.tooFast():
			c.close(CloseRateLimited, "You are being rate limited.")
		default:
			if f.Op == opHeartbeat {
				beat.Reset(grace)
			}
			c.take(f)
		}
	}
}

// tooFast counts what the client sends.
func (c *conn) tooFast() bool {
	now := time.Now()
	c.sent = slices.DeleteFunc(append(c.sent, now), func(t time.Time) bool { return now.Sub(t) > c.s.settings.real(time.Minute) })
	return len(c.sent) > sendsPerMinute
}

// take carries out what the client sent.
func (c *conn) take(f frame) {
	switch f.Op {
	case opHeartbeat:
		if c.s.acksOff() {
			return
		}
		c.send(encode(opHeartbeatAck, nil, nil, nil))
	case opIdentify:
		c.identify(f.Data)
	case opResume:
		c.resume(f.Data)
	case opPresence, opVoice, opRequestMembers, opRequestSounds:
		if c.session == nil {
			c.close(CloseNotAuthenticated, "Not authenticated.")
		}
	default:
		c.s.problem("an unknown gateway opcode")
		c.close(CloseUnknownOpcode, "Unknown opcode.")
	}
}

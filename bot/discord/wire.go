package discord

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"net"
	"sync"
	"sync/atomic"
	"time"
)

// The gateway's opcodes that we see to ourselves (Discord, Topics, Opcodes and Status Codes).
const (
	opHeartbeat      = 1
	opIdentify       = 2
	opResume         = 6
	opReconnect      = 7
	opInvalidSession = 9
	opHello          = 10
)

// What a frame's first byte says (RFC 6455, section 5.2).
const (
	finalFrame   = 0x80
	textFrame    = 1
	binaryFrame  = 2
	closingFrame = 8
)

// smallFrame is the most payload of a frame that we look into: what we look for has a few dozen bytes.
const smallFrame = 1024

// wire is a connection to the gateway that reads along. The library behind it cannot be told of three things without
// harm: a request to reconnect makes it wait for its own lock for ever when it comes early, an invalid session makes it
// identify again without a pause, and a close code is kept from us. So requests to reconnect and invalid sessions are
// taken out of the stream and signalled, and close codes are noted as they pass. A peer that is silent for longer than two
// heartbeats, or does not answer one soon, is taken for dead. What the library says is changed in speak.go.
type wire struct {
	net.Conn
	in       *bufio.Reader
	upgrade  bool   // the HTTP answer that begins the stream is not over
	refused  bool   // that answer says no: what follows is a page and no frames
	pending  []byte // read and looked into, not yet handed on
	passing  uint64 // bytes of a large frame still to be handed on unseen
	signals  signals
	shut     sync.Once
	identify []byte        // the IDENTIFY to send for the library's
	resume   func() []byte // the RESUME to send for an IDENTIFY; nil when there is no session to take up
	answer   time.Duration // in which a heartbeat is answered
	goodbye  atomic.Bool   // we have said it
	release  sync.Once
	released chan struct{} // closed when the library has closed the connection

	mu   sync.Mutex
	idle time.Duration
	code int // the peer's close code; 0 for none
}

// signals are called with what the wire sees, from the goroutine that reads.
type signals struct {
	reconnect  func()               // the service asks us to connect anew
	invalid    func(resumable bool) // the session is invalid, or can't be heard now
	closed     func()               // nothing more will come
	identified func()               // an IDENTIFY is on its way; called by who writes
}

// firstIdle is how long the peer may be silent before it has said how often it wants to hear from us.
const firstIdle = 20 * time.Second

func newWire(inner net.Conn, s signals) *wire {
	w := &wire{Conn: inner, upgrade: true, signals: s, idle: firstIdle, released: make(chan struct{})}
	w.in = bufio.NewReaderSize(impatient{inner, w.patience}, 16<<10)
	return w
}

// impatient is a connection each of whose reads must end in time.
type impatient struct {
	net.Conn
	patience func() time.Duration
}

func (i impatient) Read(p []byte) (int, error) {
	if err := i.SetReadDeadline(time.Now().Add(i.patience())); err != nil {
		return 0, err
	}
	return i.Conn.Read(p)
}

func (w *wire) patience() time.Duration {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.idle
}

// closeCode is the code with which the peer closed the connection, or 0.
func (w *wire) closeCode() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.code
}

// Read hands on the stream without what we see to ourselves.
func (w *wire) Read(p []byte) (int, error) {
	n, err := w.read(p)
	if err != nil {
		w.shut.Do(w.signals.closed)
	}
	return n, err
}

func (w *wire) read(p []byte) (int, error) {
	for len(w.pending) == 0 {
		if w.passing > 0 {
			n, err := w.in.Read(p[:min(uint64(len(p)), w.passing)])
			w.passing -= uint64(n)
			return n, err
		}
		if err := w.next(); err != nil {
			return 0, err
		}
	}
	n := copy(p, w.pending)
	w.pending = w.pending[n:]
	return n, nil
}

// Close is what the library does when it has done all else.
func (w *wire) Close() error {
	defer w.release.Do(func() { close(w.released) })
	return w.cut()
}

// cut closes the connection; whoever reads will know.
func (w *wire) cut() error {
	err := w.Conn.Close()
	w.shut.Do(w.signals.closed)
	return err
}

// next reads the next piece of the stream: a line of the HTTP answer, or a frame (RFC 6455, section 5.2).
func (w *wire) next() error {
	if w.upgrade {
		line, err := w.in.ReadSlice('\n')
		if err != nil {
			return err
		}
		w.pending = bytes.Clone(line)
		if bytes.HasPrefix(line, []byte("HTTP/")) {
			w.refused = !bytes.Contains(line, []byte(" 101 "))
		}
		w.upgrade = len(bytes.TrimSpace(line)) > 0
		return nil
	}
	if w.refused {
		page := make([]byte, smallFrame)
		n, err := w.in.Read(page)
		w.pending = page[:n]
		return err
	}
	head, size, err := w.frameHead()
	if err != nil {
		return err
	}
	if size > smallFrame {
		w.pending, w.passing = head, size
		return nil
	}
	payload := make([]byte, size)
	if _, err := io.ReadFull(w.in, payload); err != nil {
		return err
	}
	if w.look(head[0], payload) {
		w.pending = append(head, payload...)
	}
	return nil
}

// frameHead reads the head of a frame and the length of its payload. The peer is a server, so nothing is masked.
func (w *wire) frameHead() (head []byte, size uint64, err error) {
	head = make([]byte, 2, 10+smallFrame)
	if _, err := io.ReadFull(w.in, head); err != nil {
		return nil, 0, err
	}
	if head[1]&0x80 != 0 {
		return nil, 0, errors.New("the gateway sent a masked frame")
	}
	size = uint64(head[1] & 0x7f)
	more := map[uint64]int{126: 2, 127: 8}[size]
	if more == 0 {
		return head, size, nil
	}
	head = head[:2+more]
	if _, err := io.ReadFull(w.in, head[2:]); err != nil {
		return nil, 0, err
	}
	if more == 2 {
		return head, uint64(binary.BigEndian.Uint16(head[2:])), nil
	}
	return head, binary.BigEndian.Uint64(head[2:]), nil
}

// look looks into a small frame and reports whether to hand it on.
func (w *wire) look(first byte, payload []byte) bool {
	if first&finalFrame == 0 {
		return true // a piece of a larger message
	}
	switch first & 0x0f {
	case closingFrame:
		if len(payload) >= 2 {
			w.mu.Lock()
			w.code = int(binary.BigEndian.Uint16(payload))
			w.mu.Unlock()
		}
		w.shut.Do(w.signals.closed) // the connection itself may take longer to end
		return true
	case textFrame:
	case binaryFrame:
		payload = inflate(payload)
	default:
		return true
	}
	var message struct {
		Op   int             `json:"op"`
		Data json.RawMessage `json:"d"`
	}
	_ = json.Unmarshal(payload, &message) // what we cannot read is not for us
	switch message.Op {
	case opReconnect:
		w.signals.reconnect()
		return false
	case opInvalidSession:
		w.signals.invalid(string(message.Data) == "true")
		return false
	case opHello:
		var hello struct {
			HeartbeatInterval float64 `json:"heartbeat_interval"`
		}
		_ = json.Unmarshal(message.Data, &hello) // or we stay as patient as we are
		if every := time.Duration(hello.HeartbeatInterval) * time.Millisecond; every > 0 {
			w.mu.Lock()
			w.idle = 2 * every
			w.mu.Unlock()
		}
	}
	return true
}

// inflate unpacks the beginning of a compressed message; nothing when it is not one.
func inflate(packed []byte) []byte {
	r, err := zlib.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil
	}
	defer r.Close()
	plain, err := io.ReadAll(io.LimitReader(r, 4*smallFrame))
	if err != nil {
		return nil
	}
	return plain
}

package discord

import (
	"encoding/binary"
	"encoding/json"
	"math/rand/v2"
	"runtime"
	"time"

	"github.com/bwmarrin/discordgo"
)

// leaving is the code with which we close a connection whose session we may want to take up again: 1000 and 1001 would end
// it (Discord, Topics, Gateway, Initiating a Disconnect).
const leaving = 4000

// Write sends what the library sends, with three changes: an IDENTIFY becomes a RESUME when there is a session to take up,
// which the library would do only on a connection that it has mended itself, and at the address of the first; else it says
// what is documented, and not what was in the library's time; and the library's goodbye becomes one that does not end the
// session. The library writes a frame at a time.
func (w *wire) Write(p []byte) (int, error) {
	kind, payload, ok := ownFrame(p)
	if !ok {
		return w.Conn.Write(p)
	}
	switch {
	case kind == closingFrame && w.goodbye.Load():
		return len(p), nil // we have said it
	case kind == closingFrame:
		return w.instead(p, closeFrame(leaving))
	case kind != textFrame:
		return w.Conn.Write(p)
	}
	var message struct {
		Op int `json:"op"`
	}
	_ = json.Unmarshal(payload, &message) // what we cannot read is not for us
	switch message.Op {
	case opIdentify:
		if resume := w.resume(); resume != nil {
			return w.instead(p, clientFrame(textFrame, resume))
		}
		defer w.signals.identified()
		return w.instead(p, clientFrame(textFrame, w.identify))
	case opHeartbeat:
		if w.answer < w.patience() {
			if err := w.Conn.SetReadDeadline(time.Now().Add(w.answer)); err != nil { // until the next read
				return 0, err
			}
		}
	}
	return w.Conn.Write(p)
}

// identify is the message that begins a session (Discord, Events, Gateway Events, Identify).
func identify(token string, shard, shards int) ([]byte, error) {
	return json.Marshal(map[string]any{"op": opIdentify, "d": map[string]any{
		"token": token, "intents": int(discordgo.IntentsGuilds), "shard": [2]int{shard, shards}, "compress": true,
		"properties": map[string]string{"os": runtime.GOOS, "browser": "spareounce", "device": "spareounce"},
	}})
}

// farewell says that the session may end. What the service sent before it hears that is still read, until it hangs up.
func (w *wire) farewell() {
	w.goodbye.Store(true)
	_, _ = w.Conn.Write(closeFrame(1000)) // or it is gone already
}

func closeFrame(code uint16) []byte {
	return clientFrame(closingFrame, binary.BigEndian.AppendUint16(nil, code))
}

// instead writes one frame for another.
func (w *wire) instead(p, frame []byte) (int, error) {
	if _, err := w.Conn.Write(frame); err != nil {
		return 0, err
	}
	return len(p), nil
}

// ownFrame reads a whole small frame of a client's, as we are one: masked (RFC 6455, section 5.3).
func ownFrame(p []byte) (kind byte, payload []byte, ok bool) {
	const masked = 0x80
	if len(p) < 6 || p[0]&finalFrame == 0 || p[1]&masked == 0 {
		return 0, nil, false // such as the request with which it begins
	}
	size, head := int(p[1]&0x7f), 2
	switch size {
	case 126:
		size, head = int(binary.BigEndian.Uint16(p[2:])), 4
	case 127:
		return 0, nil, false // nothing that we send is so large
	}
	if len(p) != head+4+size {
		return 0, nil, false
	}
	payload = append(payload, p[head+4:]...)
	mask(payload, p[head:head+4])
	return p[0] & 0x0f, payload, true
}

// clientFrame makes a frame of a client's. The mask need only be new each time: it keeps proxies on the way from reading
// what is written as something else.
func clientFrame(kind byte, payload []byte) []byte {
	frame := []byte{finalFrame | kind}
	if len(payload) < 126 {
		frame = append(frame, 0x80|byte(len(payload)))
	} else {
		frame = binary.BigEndian.AppendUint16(append(frame, 0x80|126), uint16(len(payload)))
	}
	key := binary.BigEndian.AppendUint32(nil, rand.Uint32())
	frame = append(frame, key...)
	body := len(frame)
	frame = append(frame, payload...)
	mask(frame[body:], key)
	return frame
}

func mask(payload, key []byte) {
	for n := range payload {
		payload[n] ^= key[n%4]
	}
}

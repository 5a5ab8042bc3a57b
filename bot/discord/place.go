package discord

import (
	"encoding/json"
	"sync"
)

// place is where we are in a session: what it takes to take it up again on another connection, so that what the service
// sent meanwhile is sent again (Discord, Topics, Gateway, Resuming). It lives in memory only: what another process could
// take up is more than three seconds old by then, and dead.
type place struct {
	shard, shards int

	mu       sync.Mutex
	session  string
	address  string // where this session is taken up, which is not where it began
	sequence int64  // of the last event that came
	gone     bool   // the service does not have the session any more
}

// begin notes the session that READY tells of.
func (p *place) begin(ready json.RawMessage) {
	var r struct {
		Session string `json:"session_id"`
		Address string `json:"resume_gateway_url"`
	}
	_ = decode(ready, &r) // then it can't be taken up again, and that is all
	p.mu.Lock()
	defer p.mu.Unlock()
	p.session, p.address = r.Session, r.Address
}

// reached notes that an event came. Events overtake each other on their way to us, but none is left behind.
func (p *place) reached(sequence int64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.sequence = max(p.sequence, sequence)
}

// leave notes that the session can't be taken up any more.
func (p *place) leave() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.gone = true
}

// resumeAt is the address at which the session can be taken up; "" when it can't.
func (p *place) resumeAt() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.gone || p.session == "" {
		return ""
	}
	return p.address
}

// resume is the message that takes the session up; nil when there is none.
func (p *place) resume(token string) []byte {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.session == "" {
		return nil
	}
	text, err := json.Marshal(map[string]any{"op": opResume, "d": map[string]any{"token": token, "session_id": p.session, "seq": p.sequence}})
	if err != nil {
		return nil
	}
	return text
}

// endsSession are the close codes after which a session can't be taken up (Discord, Topics, Opcodes and Status Codes).
var endsSession = map[int]bool{4007: true, 4009: true}

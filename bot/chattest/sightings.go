package chattest

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// A Change says what happened to a message.
type Change string

// The changes that members see.
const (
	Said    Change = "said"
	Edited  Change = "edited"
	Removed Change = "removed"
)

// A Sighting is a message appearing, changing or going, in the order in which it happened.
type Sighting struct {
	At      time.Time
	Change  Change
	Message *Message
	onlyFor *Member
}

// show notes a change of a message for all who can see it. The caller holds s.mu.
func (s *Server) show(m *message, c Change) {
	x := Sighting{s.settings.now(), c, m.look(), m.onlyFor}
	s.saw = last(append(s.saw, x), s.settings.keep)
	if s.settings.watch != nil {
		s.settings.watch(x)
	}
	s.touch()
}

func (x Sighting) visibleTo(m *Member) bool {
	if x.onlyFor != nil {
		return x.onlyFor == m
	}
	return x.Message.Channel.sees(m)
}

// Saw lists all that appeared, changed and went before this member's eyes, oldest first: in the channels that the member
// can see, in private, and ephemeral answers to the member.
func (m *Member) Saw() []Sighting {
	m.s.mu.Lock()
	defer m.s.mu.Unlock()
	var out []Sighting
	for _, x := range m.s.saw {
		if x.visibleTo(m) {
			out = append(out, x)
		}
	}
	return out
}

// Saw lists all that the bot and members wrote anywhere, oldest first.
func (s *Server) Saw() []Sighting {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Sighting(nil), s.saw...)
}

// Screen lists the messages of a channel as this member sees them now, oldest first, without the service's own lines, such
// as who was added to a thread.
func (m *Member) Screen(c *Channel) []*Message {
	m.s.mu.Lock()
	defer m.s.mu.Unlock()
	var out []*Message
	if !c.sees(m) {
		return nil
	}
	for _, id := range c.messages {
		if x := m.s.messages[id]; x != nil && x.kind == 0 && (x.onlyFor == nil || x.onlyFor == m) {
			out = append(out, x.look())
		}
	}
	return out
}

// Await waits until this member sees a message for which want is true, now or later, and returns it; the newest one if
// there are several. The test fails if none comes within the server's patience.
func (m *Member) Await(want func(*Message) bool) *Message {
	m.s.t.Helper()
	timeout := time.After(m.s.settings.patience)
	for {
		m.s.mu.Lock()
		changed := m.s.changed
		m.s.mu.Unlock()
		saw := m.Saw()
		for _, x := range slices.Backward(saw) {
			if x.Change != Removed && want(x.Message) {
				return x.Message
			}
		}
		select {
		case <-changed:
		case <-timeout:
			m.s.t.Fatalf("chattest: %s saw no such message within %v, but %s", m.Name, m.s.settings.patience, retell(saw))
		}
	}
}

// retell quotes the last things that were seen.
func retell(saw []Sighting) string {
	var b strings.Builder
	for _, x := range saw[max(0, len(saw)-10):] {
		fmt.Fprintf(&b, "\n%s in #%s: %s", x.Change, x.Message.Channel.Name, x.Message.Text())
	}
	return b.String()
}

// Now gives the message as it is by now. A deleted one says so.
func (m *Message) Now() *Message {
	s := m.Channel.s
	s.mu.Lock()
	defer s.mu.Unlock()
	if x := s.messages[m.ID]; x != nil {
		return x.look()
	}
	gone := *m
	gone.Deleted = true
	return &gone
}

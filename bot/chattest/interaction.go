package chattest

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Interaction types.
const (
	commandInteraction      = 2
	componentInteraction    = 3
	autocompleteInteraction = 4
	modalInteraction        = 5
)

// tokenLife is for how long an interaction's token takes follow-ups and edits.
const tokenLife = 15 * time.Minute

// An Interaction is one thing that a member did and the bot must answer within three seconds.
type Interaction struct {
	s       *Server
	ID      string
	Member  *Member
	Channel *Channel
	token   string
	kind    int
	command *command
	message *message // that the component belongs to
	opener  *Interaction
	target  string
	created time.Time // by the server's clock
	began   time.Time // in real time
	payload object

	acknowledged bool
	callback     int // the callback's type
	ackAfter     time.Duration
	doneAfter    time.Duration
	answerID     string // the message that @original is
	since        int    // the revision of that message before the answer
	modal        *Modal
	choices      []Choice
	followUps    []string
	attempts     int  // how many callbacks came, refused ones too
	reached      bool // a session that was there
	story        []string
}

// A Choice is an offer of an autocomplete or a menu.
type Choice struct {
	Name  string
	Value any
}

// expired reports whether the time to acknowledge has passed. The caller holds s.mu.
func (i *Interaction) expired() bool {
	return !i.acknowledged && i.s.settings.now().Sub(i.created) > i.s.settings.acknowledge
}

func (i *Interaction) metadata() object {
	owners := object{"0": "0"}
	if i.Channel.guild != nil {
		owners["0"] = i.Channel.guild.ID
	}
	o := object{"id": i.ID, "type": i.kind, "user": i.Member.user(), "authorizing_integration_owners": owners}
	switch i.kind {
	case componentInteraction:
		o["interacted_message_id"] = i.message.id
	case modalInteraction:
		o["triggering_interaction_metadata"] = i.opener.metadata()
	case commandInteraction:
		if i.target != "" && i.command.kind == userCommand {
			o["target_user"] = i.s.members[i.target].user()
		} else if i.target != "" {
			o["target_message_id"] = i.target
		}
	}
	return o
}

// answered reports whether a member has the whole answer before their eyes. The caller holds s.mu.
func (i *Interaction) answered() bool {
	if i.modal != nil || i.choices != nil {
		return true
	}
	if len(i.followUps) > 0 {
		return true
	}
	m := i.s.messages[i.answerID]
	switch {
	case !i.acknowledged || m == nil:
		return false
	case i.callback == deferUpdate || i.callback == updateMessage:
		return m.revision > i.since
	}
	return m.flags&flagLoading == 0
}

// done notes the time of the whole answer. The caller holds s.mu.
func (i *Interaction) done() {
	if i.doneAfter == 0 && i.answered() {
		i.doneAfter = time.Since(i.began)
	}
	i.s.touch()
}

// Acknowledged waits until the bot has acknowledged, and reports whether it did so in time.
func (i *Interaction) Acknowledged() bool {
	i.s.await(i.s.settings.patience, func() bool { return i.acknowledged || i.expired() })
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	return i.acknowledged
}

// Failed reports whether the member by now reads that the application did not respond.
func (i *Interaction) Failed() bool {
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	return i.expired()
}

// Took tells after what real time the bot acknowledged and gave the whole answer; 0 where it has not.
func (i *Interaction) Took() (acknowledged, answered time.Duration) {
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	return i.ackAfter, i.doneAfter
}

// Answered waits for the whole answer, of whatever kind, and reports whether it came within the server's patience.
func (i *Interaction) Answered() bool { return i.s.await(i.s.settings.patience, i.answered) }

// Answer waits for the answering message: the new one, the one that a deferral became, or the one that was updated. If
// the bot acknowledged silently and followed up, it is the first follow-up. The test fails if none comes.
func (i *Interaction) Answer() *Message {
	i.s.t.Helper()
	var found *Message
	i.s.await(i.s.settings.patience, func() bool {
		if !i.answered() {
			return false
		}
		m := i.s.messages[i.answerID]
		if (m == nil || i.callback == deferUpdate && m.revision == i.since) && len(i.followUps) > 0 {
			m = i.s.messages[i.followUps[0]]
		}
		if m != nil {
			found = m.look()
		}
		return found != nil
	})
	if found == nil {
		i.s.t.Fatalf("chattest: %s got no message for an answer to %s: %s", i.Member.Name, i.did(), i.Story())
	}
	return found
}

// FollowUps waits until at least n follow-ups came, and lists all.
func (i *Interaction) FollowUps(n int) []*Message {
	i.s.t.Helper()
	if !i.s.await(i.s.settings.patience, func() bool { return len(i.followUps) >= n }) {
		i.s.t.Fatalf("chattest: %s got fewer than %d follow-ups to %s: %s", i.Member.Name, n, i.did(), i.Story())
	}
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	var out []*Message
	for _, id := range i.followUps {
		if m := i.s.messages[id]; m != nil {
			out = append(out, m.look())
		}
	}
	return out
}

// Choices waits for the offers of an autocomplete. The test fails if none come.
func (i *Interaction) Choices() []Choice {
	i.s.t.Helper()
	if !i.s.await(i.s.settings.patience, func() bool { return i.choices != nil }) {
		i.s.t.Fatalf("chattest: %s was offered nothing for %s: %s", i.Member.Name, i.did(), i.Story())
	}
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	return i.choices
}

// Modal waits for the form that the bot opens. The test fails if it opens none.
func (i *Interaction) Modal() *Modal {
	i.s.t.Helper()
	if !i.s.await(i.s.settings.patience, func() bool { return i.modal != nil }) {
		i.s.t.Fatalf("chattest: %s got no form for %s: %s", i.Member.Name, i.did(), i.Story())
	}
	return i.modal
}

// did names what the member did.
func (i *Interaction) did() string {
	data, _ := i.payload["data"].(object)
	switch i.kind {
	case commandInteraction, autocompleteInteraction:
		return "/" + text(data["name"])
	case modalInteraction:
		return "the form " + text(data["custom_id"])
	}
	return "the component " + text(data["custom_id"])
}

// sent notes to whom the interaction's event went. The caller holds s.mu.
func (i *Interaction) sent(ses *session) {
	how := "to"
	switch {
	case ses.conn == nil:
		how = "kept for"
	case !ses.conn.carries():
		how = "into the broken connection of"
	default:
		i.reached = true
	}
	i.note("sent %s session %s of shard %d", how, ses.id[:6], ses.shard[0])
}

// note adds to the story. The caller holds s.mu.
func (i *Interaction) note(words string, args ...any) {
	i.story = append(i.story, fmt.Sprintf("%v: ", time.Since(i.began).Round(time.Millisecond))+fmt.Sprintf(words, args...))
}

// Story tells what became of an interaction: to which sessions its event went, which callbacks came, and what they were
// answered. Failing waits say it too.
func (i *Interaction) Story() string {
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	if i.attempts == 0 {
		return strings.Join(append(slices.Clone(i.story), "no callback came"), "; ")
	}
	return strings.Join(i.story, "; ")
}

// Reached reports whether the interaction's event went to a session that was connected, at once or when it resumed. One
// that reached nobody the service itself has dropped.
func (i *Interaction) Reached() bool {
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	return i.reached
}

// Attempts tells how many times the bot tried to answer with a callback, refused tries too.
func (i *Interaction) Attempts() int {
	i.s.mu.Lock()
	defer i.s.mu.Unlock()
	return i.attempts
}

package chattest

import (
	"fmt"
	"slices"
	"time"
)

// Interaction callback types.
const (
	pong          = 1
	newMessage    = 4
	deferMessage  = 5
	deferUpdate   = 6
	updateMessage = 7
	offerChoices  = 8
	openModal     = 9
)

// callbacksFor lists the callback types that each type of interaction takes (Discord, Receiving and Responding).
func (i *Interaction) callbacksFor() []int {
	switch i.kind {
	case autocompleteInteraction:
		return []int{offerChoices}
	case componentInteraction:
		return []int{newMessage, deferMessage, deferUpdate, updateMessage, openModal}
	case modalInteraction:
		if i.message != nil {
			return []int{newMessage, deferMessage, deferUpdate, updateMessage}
		}
		return []int{newMessage, deferMessage}
	}
	return []int{newMessage, deferMessage, openModal}
}

func callback(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	i, err := c.openInteraction()
	if err != nil {
		s.mu.Unlock()
		return answer{}, err
	}
	b := c.body()
	kind := number(b["type"])
	if !slices.Contains(i.callbacksFor(), kind) {
		s.mu.Unlock()
		return answer{}, form([]fieldError{{"type", "BASE_TYPE_CHOICES", fmt.Sprintf("Value must be one of %v.", i.callbacksFor())}})
	}
	data, _ := b["data"].(object)
	i.acknowledged, i.callback, i.ackAfter = true, kind, time.Since(i.began)
	i.note("acknowledged with callback %d", kind)
	changed, how := i.apply(c, kind, data)
	i.done()
	out := answer{}
	if c.URL.Query().Get("with_response") == "true" {
		out = answer{200, i.response(kind)}
	}
	s.mu.Unlock()
	if changed != nil {
		s.tellOf(how, changed)
	}
	return out, nil
}

// openInteraction finds the interaction that a callback is for, if it still takes one. The caller holds s.mu.
func (c *call) openInteraction() (*Interaction, error) {
	i := c.s.interactions[c.part("token")]
	if i == nil || i.ID != c.part("interaction") {
		return nil, unknownInteraction
	}
	i.attempts++
	switch {
	case i.acknowledged:
		i.note("a callback came, and was refused: already acknowledged")
		return nil, alreadyAcknowledged
	case i.expired():
		i.note("a callback came, and was refused: too late")
		return nil, unknownInteraction
	}
	return i, nil
}

// apply carries a callback out, and tells which message it made or changed. The caller holds s.mu.
func (i *Interaction) apply(c *call, kind int, data object) (*message, string) {
	s := i.s
	switch kind {
	case newMessage, deferMessage:
		m := s.newMessage(i.Channel, s.app.bot)
		m.from, i.answerID = i, m.id
		if kind == deferMessage { // of a deferral's flags only EPHEMERAL counts
			m.flags = flagLoading
			m.hide(i, data)
		} else {
			m.hide(i, data)
			m.set(c, data)
		}
		s.show(m, Said)
		return m, "MESSAGE_CREATE"
	case deferUpdate:
		i.answerID, i.since = i.message.id, i.message.revision
	case updateMessage:
		i.answerID, i.since = i.message.id, i.message.revision
		s.change(i.message, c, data)
		return i.message, "MESSAGE_UPDATE"
	case offerChoices:
		i.choices = []Choice{}
		list, _ := data["choices"].([]any)
		for _, o := range objects(list) {
			i.choices = append(i.choices, Choice{text(o["name"]), o["value"]})
		}
	case openModal:
		i.modal = newModal(i, data)
	}
	return nil, ""
}

// hide makes a message whose form says EPHEMERAL one for the member's eyes only.
func (m *message) hide(i *Interaction, form object) {
	if flagsOf(form)&flagEphemeral != 0 {
		m.flags |= flagEphemeral
		m.onlyFor = i.Member
	}
}

// response is the body of a callback that asked for one.
func (i *Interaction) response(kind int) object {
	o := object{"id": i.ID, "type": i.kind, "channel_id": i.Channel.ID}
	if i.Channel.guild != nil {
		o["guild_id"] = i.Channel.guild.ID
	}
	out := object{"interaction": o}
	m := i.s.messages[i.answerID]
	if m == nil {
		return out
	}
	o["response_message_id"], o["response_message_loading"] = m.id, m.flags&flagLoading != 0
	o["response_message_ephemeral"] = m.onlyFor != nil
	if kind == newMessage {
		out["resource"] = object{"type": newMessage, "message": m.wire()}
	} else if kind == updateMessage {
		out["resource"] = object{"type": updateMessage, "message": m.wire()}
	}
	return out
}

// hooked finds the interaction of a webhook's path. The caller holds s.mu.
func (c *call) hooked() (*Interaction, error) {
	if c.part("application") != c.s.app.ID {
		return nil, unknownWebhook
	}
	i := c.s.interactions[c.part("token")]
	switch {
	case i == nil || c.s.settings.now().Sub(i.created) > tokenLife:
		return nil, invalidToken
	case !i.acknowledged:
		return nil, unknownWebhook
	}
	return i, nil
}

// followUp adds a message to an answered interaction. Directly after a deferral it edits that instead, and leaves it
// ephemeral or not as it was: documented as deprecated, for old bots.
func followUp(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	i, err := c.hooked()
	if err != nil {
		s.mu.Unlock()
		return answer{}, err
	}
	if m := s.messages[i.answerID]; m != nil && m.flags&flagLoading != 0 {
		i.complete(m, c)
		wire := m.wire()
		s.mu.Unlock()
		s.problem("a follow-up right after a deferral is deprecated: edit @original")
		s.tellOf("MESSAGE_UPDATE", m)
		return answer{200, wire}, nil
	}
	m := s.newMessage(i.Channel, s.app.bot)
	m.from = i
	m.hide(i, c.body())
	m.set(c, c.body())
	i.followUps = append(i.followUps, m.id)
	s.show(m, Said)
	i.done()
	wire := m.wire()
	s.mu.Unlock()
	s.tellOf("MESSAGE_CREATE", m)
	return answer{200, wire}, nil
}

// complete turns a deferral into the answer. The caller holds s.mu.
func (i *Interaction) complete(m *message, c *call) {
	m.set(c, c.body())
	m.flags &^= flagLoading
	i.s.show(m, Said)
	i.done()
}

// answered finds the message of a webhook's path. The caller holds s.mu.
func (c *call) answered() (*Interaction, *message, error) {
	i, err := c.hooked()
	if err != nil {
		return nil, nil, err
	}
	id := c.part("message")
	if id == "" {
		id = i.answerID
	}
	m := c.s.messages[id]
	if m == nil || m.from != i && m != i.message {
		return nil, nil, unknownMessage
	}
	return i, m, nil
}

func getAnswer(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	_, m, err := c.answered()
	if err != nil {
		return answer{}, err
	}
	return answer{200, m.wire()}, nil
}

func editAnswer(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	i, m, err := c.answered()
	if err != nil {
		s.mu.Unlock()
		return answer{}, err
	}
	if m.flags&flagLoading != 0 {
		i.complete(m, c)
	} else {
		s.change(m, c, c.body())
		i.done()
	}
	wire := m.wire()
	s.mu.Unlock()
	s.tellOf("MESSAGE_UPDATE", m)
	return answer{200, wire}, nil
}

func deleteAnswer(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	_, m, err := c.answered()
	if err != nil {
		s.mu.Unlock()
		return answer{}, err
	}
	s.forget(m)
	s.show(m, Removed)
	s.mu.Unlock()
	s.tellOf("MESSAGE_DELETE", m)
	return answer{}, nil
}

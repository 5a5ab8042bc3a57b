package chattest

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// nonceMemory is for how long enforce_nonce finds an earlier message; the documentation says "the past few minutes".
const nonceMemory = 3 * time.Minute

// A nonceUse remembers which message a nonce made.
type nonceUse struct {
	message string
	at      time.Time
}

func createMessage(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	ch, err := c.mayWrite()
	if err != nil {
		s.mu.Unlock()
		return answer{}, err
	}
	b := c.body()
	key := ""
	if b["enforce_nonce"] == true && b["nonce"] != nil {
		key = fmt.Sprint(b["nonce"])
		if use, ok := s.nonces[key]; ok && s.settings.now().Sub(use.at) < s.settings.nonces && s.messages[use.message] != nil {
			wire := s.messages[use.message].wire()
			s.mu.Unlock()
			return answer{200, wire}, nil
		}
	}
	m := s.newMessage(ch, s.app.bot)
	m.nonce = b["nonce"]
	m.set(c, b)
	if ref, ok := b["message_reference"].(object); ok {
		m.reply = text(ref["message_id"])
		if s.messages[m.reply] == nil && ref["fail_if_not_exists"] != false {
			s.forget(m)
			s.mu.Unlock()
			return answer{}, form([]fieldError{{"message_reference", "REPLIES_UNKNOWN_MESSAGE", "Unknown message"}})
		}
	}
	if key != "" {
		s.nonces[key] = nonceUse{m.id, s.settings.now()}
		s.forgetNonces()
	}
	s.show(m, Said)
	wire := m.wire()
	s.mu.Unlock()
	s.tellOf("MESSAGE_CREATE", m)
	return answer{200, wire}, nil
}

// forgetNonces drops the nonces that are too old to matter, when there are many. The caller holds s.mu.
func (s *Server) forgetNonces() {
	if len(s.nonces) <= 2*s.settings.keep {
		return
	}
	now := s.settings.now()
	maps.DeleteFunc(s.nonces, func(_ string, use nonceUse) bool { return now.Sub(use.at) >= s.settings.nonces })
}

// mayWrite finds the channel that the bot wants to write to, or what Discord says to it. The caller holds s.mu.
func (c *call) mayWrite() (*Channel, error) {
	need := SendMessages
	ch := c.s.channels[c.part("channel")]
	if ch != nil && ch.parent != nil {
		need = SendMessagesInThreads
	}
	if len(c.uploads) > 0 {
		need |= AttachFiles
	}
	ch, err := c.channel(need)
	switch {
	case err != nil:
		return nil, err
	case ch.Kind == Private:
		return ch, c.s.mayDM(ch.recipient())
	case ch.Kind == Category:
		return nil, notInThisChannelKind
	case ch.locked && ch.archived:
		return nil, threadArchived
	case ch.locked && ch.permissions(c.s.app.bot)&ManageThreads == 0:
		return nil, threadLocked
	}
	ch.archived = false
	return ch, nil
}

// mayDM says whether a private message from the bot reaches a member. The caller holds s.mu.
func (s *Server) mayDM(m *Member) error {
	if m.closedDMs {
		return cannotSend
	}
	for _, g := range s.guilds {
		if !g.gone && g.joined[m.ID] != nil {
			return nil
		}
	}
	return noMutualGuild
}

// channelsKept is how many times as many messages as in one channel are remembered in all.
const channelsKept = 20

// newMessage makes an empty message in a channel. The caller holds s.mu.
func (s *Server) newMessage(ch *Channel, author *Member) *message {
	m := &message{id: s.newID(), channel: ch, author: author}
	s.messages[m.id] = m
	ch.messages = append(ch.messages, m.id)
	s.order = append(s.order, m)
	for len(s.order) > channelsKept*s.settings.keep {
		s.forget(s.order[0])
		s.order = s.order[1:]
	}
	if len(ch.messages) > s.settings.keep {
		delete(s.messages, ch.messages[0])
		ch.messages = ch.messages[1:]
	}
	return m
}

func (s *Server) forget(m *message) {
	delete(s.messages, m.id)
	m.channel.messages = slices.DeleteFunc(m.channel.messages, func(id string) bool { return id == m.id })
	m.deleted = true
}

// set takes over what a form says about a message; what the form does not name stays. The caller holds s.mu.
func (m *message) set(c *call, form object) {
	if v, ok := form["content"]; ok {
		m.content = text(v)
	}
	if v, ok := form["embeds"]; ok {
		m.embeds, _ = v.([]any)
	}
	if v, ok := form["components"]; ok {
		m.components, _ = v.([]any)
	}
	if form["flags"] != nil {
		const stays, settable = flagEphemeral | flagLoading | flagComponentsV2, flagSuppressEmbeds | flagSilent | flagComponentsV2
		m.flags = m.flags&stays | flagsOf(form)&settable
	}
	m.attach(c, form)
	m.ping(form)
}

func flagsOf(form object) int { return max(number(form["flags"]), 0) }

// attach keeps the old files that the form lists, all if it has no list, and stores the new ones.
func (m *message) attach(c *call, form object) {
	listed, given := form["attachments"].([]any)
	if given {
		m.attachments = slices.DeleteFunc(m.attachments, func(f *storedFile) bool {
			return !slices.ContainsFunc(objects(listed), func(o object) bool { return text(o["id"]) == f.id })
		})
	}
	for _, u := range c.uploads {
		n := strings.TrimSuffix(strings.TrimPrefix(u.field, "files["), "]")
		described := ""
		for _, o := range objects(listed) {
			if fmt.Sprint(o["id"]) == n {
				described = text(o["description"])
				if name := text(o["filename"]); name != "" {
					u.name = name
				}
			}
		}
		f := c.s.store(m.channel, attachments, u.name, u.kind, u.data)
		f.description = described
		f.ephemeral = m.flags&flagEphemeral != 0
		m.attachments = append(m.attachments, f)
	}
}

// ping works out who is pinged. With no allowed_mentions, everyone whom the text mentions is.
func (m *message) ping(form object) {
	m.mentions, m.everyone = nil, false
	allowed, limited := form["allowed_mentions"].(object)
	kinds, _ := allowed["parse"].([]any)
	users, _ := allowed["users"].([]any)
	said := m.allText()
	if !strings.ContainsAny(said, "@") {
		return
	}
	may := func(kind string) bool { return !limited || slices.Contains(kinds, any(kind)) }
	for id, u := range m.channel.s.members {
		if strings.Contains(said, "<@"+id+">") || strings.Contains(said, "<@!"+id+">") {
			if may("users") || slices.Contains(users, any(id)) {
				m.mentions = append(m.mentions, u)
			}
		}
	}
	slices.SortFunc(m.mentions, func(a, b *Member) int { return byID(a.ID, b.ID) })
	loud := strings.Contains(said, "@everyone") || strings.Contains(said, "@here")
	m.everyone = loud && may("everyone") && m.channel.permissions(m.author)&MentionEveryone != 0
}

// allText is the text in which mentions count: the content, and text displays.
func (m *message) allText() string {
	var b strings.Builder
	b.WriteString(m.content)
	walk(objects(m.components), func(c object) {
		if number(c["type"]) == textDisplay {
			b.WriteString("\n" + text(c["content"]))
		}
	})
	return b.String()
}

// message finds the message of the path. The caller holds s.mu.
func (c *call) message(need Permissions) (*message, error) {
	ch, err := c.channel(need)
	if err != nil {
		return nil, err
	}
	m := c.s.messages[c.part("message")]
	if m == nil || m.channel != ch || m.onlyFor != nil {
		return nil, unknownMessage
	}
	return m, nil
}

func getMessage(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	m, err := c.message(ReadMessageHistory)
	if err != nil {
		return answer{}, err
	}
	return answer{200, m.wire()}, nil
}

func listMessages(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	ch, err := c.channel(ReadMessageHistory)
	if err != nil {
		return answer{}, err
	}
	limit, err := strconv.Atoi(c.URL.Query().Get("limit"))
	if err != nil {
		limit = 50
	}
	before, after := c.URL.Query().Get("before"), c.URL.Query().Get("after")
	out := []object{}
	for _, id := range slices.Backward(ch.messages) {
		m := c.s.messages[id]
		if m == nil || m.onlyFor != nil || before != "" && byID(id, before) >= 0 || after != "" && byID(id, after) <= 0 {
			continue
		}
		if out = append(out, m.wire()); len(out) == limit {
			break
		}
	}
	return answer{200, out}, nil
}

func editMessage(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	m, err := c.message(0)
	switch {
	case err != nil:
	case m.author != s.app.bot:
		err = cannotEditOthers
	case m.channel.archived:
		err = threadArchived
	case m.channel.locked && m.channel.permissions(s.app.bot)&ManageThreads == 0:
		err = threadLocked
	}
	if err != nil {
		s.mu.Unlock()
		return answer{}, err
	}
	s.change(m, c, c.body())
	wire := m.wire()
	s.mu.Unlock()
	s.tellOf("MESSAGE_UPDATE", m)
	return answer{200, wire}, nil
}

// change edits a message, and shows it. The caller holds s.mu.
func (s *Server) change(m *message, c *call, form object) {
	m.set(c, form)
	m.edited = s.settings.now()
	m.revision++
	s.show(m, Edited)
}

func deleteMessage(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	m, err := c.message(0)
	if err == nil && m.author != s.app.bot {
		_, err = c.channel(ManageMessages)
	}
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

// tellOf sends the gateway's event about a message, to sessions whose intents ask for it. Without the message content
// intent, what others wrote comes without content unless it mentions the bot or is private.
func (s *Server) tellOf(name string, m *message) {
	if m.onlyFor != nil {
		return
	}
	intent := GuildMessages
	if m.channel.guild == nil {
		intent = DirectMessages
	}
	s.dispatch(event{name: name, guild: m.channel.guild, intent: intent, data: func() object {
		if name == "MESSAGE_DELETE" {
			return m.place(object{"id": m.id, "channel_id": m.channel.ID})
		}
		o := m.place(m.wire())
		if m.channel.guild != nil {
			o["member"] = m.channel.guild.joined[m.author.ID].wire()
		}
		return o
	}, reduced: func(o object) object {
		if m.author == s.app.bot || m.channel.guild == nil || slices.Contains(m.mentions, s.app.bot) {
			return o
		}
		o["content"], o["embeds"], o["components"], o["attachments"] = "", []any{}, []any{}, []any{}
		return o
	}})
}

func (m *message) place(o object) object {
	if m.channel.guild != nil {
		o["guild_id"] = m.channel.guild.ID
	}
	return o
}

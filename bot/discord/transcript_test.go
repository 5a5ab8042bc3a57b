package discord

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"spareounce/bot"
	"spareounce/bot/chattest"
	"spareounce/bot/spot"
	"spareounce/bot/talk"
	"spareounce/bot/tongue"
	"spareounce/store"
)

// TestTranscripts plays every transcript of testdata/talk through the library and the stand-in: members use commands and
// press buttons, and what they read must be what the transcript says, word for word.
func TestTranscripts(t *testing.T) {
	files, err := filepath.Glob("../../testdata/talk/*.talk")
	if err != nil || len(files) == 0 {
		t.Fatal("no transcripts", err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".talk"), func(t *testing.T) {
			t.Parallel()
			f, err := os.Open(file)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			script, err := talk.Parse(f)
			if err != nil {
				t.Fatal(err)
			}
			p := &stagePlayer{table: newTableWith(t, 1), people: map[string]*chattest.Member{}, feeds: map[string]string{}}
			p.prepare()
			p.connected()
			p.play(script)
			if difference := talk.Compare(script, p.out); difference != "" {
				t.Error(difference)
			}
		})
	}
}

// stagePlayer plays a transcript in a stand-in.
type stagePlayer struct {
	*table
	people map[string]*chattest.Member
	seen   int // sightings written down
	out    []string
	posts  *chattest.Channel // where the whole group is spoken to unasked
	feeds  map[string]string // by address, what a price feed says: a status and a body
	crowd  bool              // other groups speak at the same time
}

// prepare gives posts a channel of their own and price feeds their voice.
func (p *stagePlayer) prepare() {
	p.posts = p.guild.Channel("posts")
	g, err := p.store.Group(p.t.Context(), p.guild.ID, p.guild.ID)
	if err != nil {
		p.t.Fatal(err)
	}
	g.Channel = p.posts.ID
	if err := p.store.SaveGroup(p.t.Context(), g); err != nil {
		p.t.Fatal(err)
	}
	p.bot.Ask(spot.NewFetcher(func(string) string { return "" }, nil).Through(spot.Answering(func(url string) (status int, body string) {
		p.mu.Lock()
		defer p.mu.Unlock()
		if _, err := fmt.Sscan(p.feeds[url], &status); err != nil {
			return 404, ""
		}
		return status, p.feeds[url][4:]
	})))
}

// person is a member, who has asked for private messages.
func (p *stagePlayer) person(name string) *chattest.Member {
	if m := p.people[name]; m != nil {
		return m
	}
	_, size := utf8.DecodeRuneInString(name)
	m := p.guild.Member(strings.ToUpper(name[:size]) + name[size:])
	p.people[name] = m
	if err := p.store.SaveAccount(p.t.Context(), m.ID, store.Account{Reach: store.ReachMessage}); err != nil {
		p.t.Fatal(err)
	}
	return m
}

func (p *stagePlayer) play(script []talk.Line) {
	for n, l := range script {
		if l.Ours() {
			continue
		}
		p.out = append(p.out, l.Text)
		if who, ok := l.Keeper(); ok {
			p.guild.Role("keeper of "+who, chattest.ManageGuild).Give(p.person(who))
			continue
		}
		if url, status, body, ok := l.Feed(); ok {
			p.mu.Lock()
			p.feeds[url] = fmt.Sprintf("%03d %s", status, body)
			p.mu.Unlock()
			continue
		}
		for _, step := range l.Steps() {
			p.pass(step)
		}
		var answer []string
		if who, words, alone, ok := l.Says(); ok {
			answered := n+1 < len(script) && script[n+1].Ours()
			answer = p.says(who, words, alone, answered)
		}
		if who, label, ok := l.Presses(); ok {
			answer = p.presses(who, label)
		}
		p.settle()
		p.write(answer)
	}
}

// pass lets time pass.
func (p *stagePlayer) pass(step time.Duration) {
	p.mu.Lock()
	p.now = p.now.Add(step)
	p.mu.Unlock()
	if err := p.store.Tick(p.t.Context()); err != nil {
		p.t.Fatal(err)
	}
	p.settle()
}

// settle waits until everything that follows has happened.
func (p *stagePlayer) settle() {
	if err := talk.Settle(p.t.Context(), p.store); err != nil {
		p.t.Fatal(err)
	}
	p.rest()
}

// rest waits until the chat does nothing.
func (p *stagePlayer) rest() {
	for end := time.Now().Add(20 * time.Second); p.chat.work.count() > 0; time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			p.t.Fatal("the chat does not come to rest")
		}
	}
}

// says has a member use the command that makes the line, or talk among members when the bot is to stay silent.
func (p *stagePlayer) says(who, words string, alone, answered bool) []string {
	m, place := p.person(who), p.channel
	if !answered {
		m.Say(place, words)
		return nil
	}
	if alone {
		place = m.DM()
		p.known(m)
	}
	name, values := commandFor(words, func(name string) bool { return slices.Contains(m.Offered(place), name) })
	i := m.Slash(place, name, values)
	return p.answerTo(who, i)
}

// known makes a member known to the bot, as who has spoken in the server is: in private alone it knows nobody's group.
func (p *stagePlayer) known(m *chattest.Member) {
	g, err := p.store.Group(p.t.Context(), p.guild.ID, p.guild.ID)
	if err != nil {
		p.t.Fatal(err)
	}
	if _, ok, err := p.store.KnownMember(p.t.Context(), g.ID, m.ID); err != nil || ok {
		return
	}
	if _, err := p.store.Join(p.t.Context(), g.ID, m.ID, m.Name, false, ""); err != nil {
		p.t.Fatal(err)
	}
}

// answerTo waits for an answer and all that belongs to it, and returns it as lines of the transcript.
func (p *stagePlayer) answerTo(who string, i *chattest.Interaction) []string {
	whole := p.read(i.Answer())
	p.rest()
	for _, more := range i.FollowUps(0) {
		whole.add(p.read(more))
	}
	to := who
	if !i.Answer().Ephemeral && i.Answer().Channel.Kind != chattest.Private {
		to = ""
	}
	return []string{whole.line(to)}
}

// commandFor finds the command that makes a line: the verb's own where it has a field for all that follows, else the one
// for a whole line.
func commandFor(words string, offered func(string) bool) (name string, values chattest.Values) {
	name, values = bot.Say, chattest.Values{"line": words}
	longest := 0
	for _, c := range bot.Commands() {
		rest, is := strings.CutPrefix(strings.ToLower(words), c.Name)
		if !is || len(c.Name) <= longest || rest != "" && rest[0] != ' ' || !offered(commandName(c.Name)) {
			continue
		}
		rest = strings.TrimSpace(words[len(c.Name):])
		if filled, ok := fillFor(c, rest); ok {
			longest, name, values = len(c.Name), commandName(c.Name), filled
		}
	}
	return name, values
}

func fillFor(c bot.Command, rest string) (chattest.Values, bool) {
	if rest == "" {
		for _, f := range c.Fields {
			if f.Required {
				return nil, false
			}
		}
		return nil, !takesText(c)
	}
	if len(c.Fields) == 0 {
		return nil, false
	}
	f := c.Fields[0]
	switch f.Kind {
	case bot.PieceList:
	case bot.OneOf:
		if !slices.Contains(f.Choices, rest) {
			return nil, false
		}
	case bot.TextFile:
		return nil, false
	case bot.TradeNumber, bot.WholeNumber:
		n, err := strconv.Atoi(rest)
		if err != nil || len(c.Fields) > 1 && c.Fields[1].Required {
			return nil, false
		}
		return chattest.Values{f.Name: n}, true
	default:
		if len(c.Fields) > 1 && strings.Contains(rest, " ") {
			return nil, false
		}
	}
	for _, other := range c.Fields[1:] {
		if other.Required {
			return nil, false
		}
	}
	return chattest.Values{f.Name: rest}, true
}

// presses has a member press the newest button of that label that they can see.
func (p *stagePlayer) presses(who, label string) []string {
	m := p.person(who)
	sightings := m.Saw()
	for i := len(sightings) - 1; i >= 0; i-- {
		if sightings[i].Change != chattest.Said {
			continue // older messages are changed when a trade moves
		}
		now := sightings[i].Message.Now()
		for _, b := range now.Buttons() {
			if b.Label == label {
				return p.answerTo(who, m.Press(now, b.CustomID))
			}
		}
		for _, menu := range now.Selects() {
			for _, c := range menu.Choices {
				if c.Name == label {
					return p.answerTo(who, m.Choose(now, menu.CustomID, c.Value))
				}
			}
		}
	}
	return p.late(who, label, sightings)
}

// late has a member press a button that has been taken off its message since: by now its line can only be typed.
func (p *stagePlayer) late(who, label string, sightings []chattest.Sighting) []string {
	for i := len(sightings) - 1; i >= 0; i-- {
		for _, b := range sightings[i].Message.Buttons() {
			if b.Label != label {
				continue
			}
			v, state, err := p.chat.seal.open(p.t.Context(), p.bot, b.CustomID)
			if err != nil || state != opened {
				p.t.Fatal(state, err)
			}
			m := p.person(who)
			return p.answerTo(who, m.Slash(m.DM(), bot.Say, chattest.Values{"line": v.line}))
		}
	}
	p.t.Fatalf("%s never had a button %q", who, label)
	return nil
}

// write writes down an answer, then what else was said since.
func (p *stagePlayer) write(answer []string) {
	p.out = append(p.out, answer...)
	all := p.Saw()
	fresh := all[p.seen:]
	p.seen = len(all)
	for n, x := range fresh {
		m := x.Message
		if m.Channel == p.posts && x.Change != chattest.Removed {
			p.out = append(p.out, p.read(m).line(""))
			continue
		}
		if m.Author.ID != p.ApplicationID() || m.Channel.Kind != chattest.Private || x.Change == chattest.Removed {
			continue
		}
		if p.crowd && p.nameOf(m) == "?" {
			continue
		}
		told := p.read(m)
		if x.Change == chattest.Edited && (p.refreshes(told) || p.stripped(all[:p.seen-len(fresh)+n], x, told)) {
			continue
		}
		if len(answer) > 0 && told.line(p.nameOf(m)) == answer[0] {
			answer = nil // the answer itself, in private
			continue
		}
		p.out = append(p.out, told.line(p.nameOf(m)))
	}
}

// refreshes reports whether a change only brings a message up to date: it shows a trade as it stands, "Trade 12, a swap: …" in
// whatever language, to a party or to who else may see it.
func (p *stagePlayer) refreshes(m reading) bool {
	return len(m.lines) > 1 && slices.ContainsFunc(tradeHeads, func(head *regexp.Regexp) bool { return head.MatchString(m.lines[0]) })
}

// tradeHeads are what a message that shows a trade begins with, in each language.
var tradeHeads = func() (heads []*regexp.Regexp) {
	places := strings.NewReplacer("<number>", `\d+`, "<shape>", `.+`, "<state>", `.+`)
	for _, tag := range tongue.Tags() {
		in, _ := tongue.In(tag)
		head := in.Say("Trade {n}, {shape}: {state}.", "n", "<number>", "shape", "<shape>", "state", "<state>")
		heads = append(heads, regexp.MustCompile("^"+places.Replace(regexp.QuoteMeta(head))+"$"))
	}
	return heads
}()

// stripped reports whether a change took away nothing but buttons.
func (p *stagePlayer) stripped(before []chattest.Sighting, x chattest.Sighting, now reading) bool {
	for i := len(before) - 1; i >= 0; i-- {
		if before[i].Message.ID == x.Message.ID {
			return slices.Equal(p.read(before[i].Message).lines, now.lines)
		}
	}
	return false
}

func (p *stagePlayer) nameOf(m *chattest.Message) string {
	for name, who := range p.people {
		if who.DM() == m.Channel {
			return name
		}
	}
	return "?"
}

package discord

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"spareounce/bot"
	"spareounce/bot/chattest"
)

// match has two members say what makes a notice for both: ann wants what bo can spare.
func (tb *table) match() (ann, bo *chattest.Member) {
	tb.t.Helper()
	ann, bo = tb.guild.Member("ann"), tb.guild.Member("bo")
	ann.Slash(tb.channel, "want", chattest.Values{"pieces": "lantern 84"}).Answer()
	bo.Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 84"}).Answer()
	return ann, bo
}

func has(words string) func(*chattest.Message) bool {
	return func(m *chattest.Message) bool { return strings.Contains(asShown(m.Text()), words) }
}

func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); !ok(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal(what)
		}
	}
}

// TestNobodyIsWrittenToWhoDidNotAsk has a match come up: it waits for the member's visit, and is said once.
func TestNobodyIsWrittenToWhoDidNotAsk(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann, _ := tb.match()
	tb.settled()
	if n := len(ann.Screen(ann.DM())); n != 0 {
		t.Errorf("%d private messages were written", n)
	}
	i := ann.Slash(tb.channel, "trades", nil)
	more := i.FollowUps(1)
	if !more[0].Ephemeral || asShown(more[0].Content) != "While you were away:\nbo can spare lantern 84, which you want." {
		t.Errorf("%+v", more[0])
	}
	again := ann.Slash(tb.channel, "trades", nil)
	again.Answer()
	tb.settled()
	if n := len(again.FollowUps(0)); n != 0 {
		t.Errorf("it is said again, %d times", n)
	}
}

func (tb *table) settled() {
	tb.t.Helper()
	p := &stagePlayer{table: tb}
	p.settle()
}

// TestAMemberAsksForMessagesAndIsWrittenTo reads the message, and the nonce by which the service drops a second copy.
func TestAMemberAsksForMessagesAndIsWrittenTo(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann := tb.guild.Member("ann")
	ann.Slash(tb.channel, "reach", chattest.Values{"how": "message"}).Answer()
	tb.Fail("POST /channels/*/messages", 1, chattest.CutAfter())
	tb.match()
	ann.Await(has("bo can spare lantern 84, which you want."))
	tb.settled()
	if all := ann.Screen(ann.DM()); len(all) != 1 {
		t.Errorf("told %d times", len(all))
	}
}

// TestClosedMessagesAreRemembered closes a member's messages: the notice waits for the visit, and no other is tried.
func TestClosedMessagesAreRemembered(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann := tb.guild.Member("ann")
	ann.Slash(tb.channel, "reach", chattest.Values{"how": "message"}).Answer()
	ann.CloseDMs(true)
	tb.match()
	tb.settled()
	how, err := tb.bot.Account(t.Context(), ann.ID)
	if err != nil || how.Closed == nil {
		t.Fatal(how, err)
	}
	tb.guild.Member("cy").Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 84"}).Answer()
	tb.settled()
	tried := 0
	for _, r := range tb.Requests() {
		if r.Method == "POST" && strings.HasPrefix(r.Path, "/channels/") {
			tried++
		}
	}
	if tried != 1 {
		t.Errorf("%d messages were tried", tried)
	}
	more := ann.Slash(tb.channel, "trades", nil).FollowUps(3)
	for n, says := range []string{"your messages are closed to me", "bo can spare lantern 84", "cy can spare lantern 84"} {
		if !has(says)(more[n]) {
			t.Error(more[n].Text())
		}
	}
	ann.CloseDMs(false)
	ann.Slash(tb.channel, "reach", chattest.Values{"how": "message"}).Answer()
	tb.guild.Member("dee").Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 84"}).Answer()
	ann.Await(has("dee can spare lantern 84, which you want."))
}

// TestAThreadForWhoWantsOne has a keeper allow threads and a member ask for one.
func TestAThreadForWhoWantsOne(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	err := tb.bot.Arrange(t.Context(), tb.guild.ID, func(g *bot.Group) { g.Channel, g.Threads = tb.channel.ID, true })
	if err != nil {
		t.Fatal(err)
	}
	ann := tb.guild.Member("ann")
	ann.Slash(tb.channel, "reach", chattest.Values{"how": "thread"}).Answer()
	tb.match()
	said := ann.Await(has("bo can spare lantern 84, which you want."))
	if said.Channel.Kind != chattest.PrivateThread || said.Channel.Name != "Spareounce for ann" {
		t.Errorf("%+v", said.Channel)
	}
	tb.guild.Member("cy").Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 84"}).Answer()
	again := ann.Await(has("cy can spare lantern 84, which you want."))
	if again.Channel != said.Channel {
		t.Error("each notice gets a thread of its own")
	}
	said.Channel.Archive(true)
	tb.guild.Member("dee").Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 84"}).Answer()
	if anew := ann.Await(has("dee can spare lantern 84, which you want.")); anew.Channel == said.Channel {
		t.Error("a locked thread was written to")
	}
}

// TestATradesMessageFollowsItsState looks at one member's message while the others answer.
func TestATradesMessageFollowsItsState(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	people := map[string]*chattest.Member{}
	for who, lines := range map[string][2]string{"ann": {"lantern 84", "lantern 88"}, "bo": {"lantern 88", "lantern 84"}} {
		people[who] = tb.guild.Member(who)
		people[who].Slash(tb.channel, "reach", chattest.Values{"how": "message"}).Answer()
		people[who].Slash(tb.channel, "double", chattest.Values{"pieces": lines[0]}).Answer()
		people[who].Slash(tb.channel, "want", chattest.Values{"pieces": lines[1]}).Answer()
	}
	ann, bo := people["ann"], people["bo"]
	asked := ann.Await(has("[Accept]"))
	bos := bo.Await(has("[Accept]"))
	if said := ann.Press(asked, "Accept").Answer(); !has("you said yes")(said) {
		t.Error(said.Text())
	}
	eventually(t, "the message does not follow", func() bool { return has("you said yes")(asked.Now()) && !has("[Accept]")(asked.Now()) })
	bo.Press(bos, "Accept").Answer()
	agreed := ann.Await(has("Trade 1 is agreed."))
	if agreed.ID == asked.ID {
		t.Error("what asks for something was said where nobody notices")
	}
	eventually(t, "an older message keeps its buttons", func() bool { return len(asked.Now().Buttons()) == 0 })
	fallback, err := tb.bot.SaidAbout(t.Context(), tb.guild.ID, "trade 1")
	if err != nil || len(fallback) != 2 {
		t.Error(fallback, err)
	}
}

// TestButtonsOfOldAndOfOthers presses a button after a restart, one that was changed, one whose line is forgotten, and one
// of another version.
func TestButtonsOfOldAndOfOthers(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann := tb.guild.Member("ann")
	asked := ann.Slash(tb.channel, "want", chattest.Values{"pieces": "84"}).Answer()
	if err := tb.stop(); err != nil {
		t.Fatal(err)
	}
	tb.store, tb.bot, tb.chat, tb.stop = tb.serve(Config{})
	tb.identified(2)
	if said := ann.Press(asked, "lantern").Answer(); said.Content != "ann wants lantern 84." {
		t.Error(said.Text())
	}
	long := "have lantern 84 note " + strings.Repeat("word ", 30)
	for _, c := range []struct{ id, says string }{
		{"1b..x" + strings.Repeat("A", 12), "made by an earlier version or has been changed"},
		{"", "made by an earlier version or has been changed"},
		{must(tb.chat.seal.pack(t.Context(), tb.bot, sealed{saysLine, tb.guild.ID, ann.ID, long}))(t), "lantern: 1 of 9"},
		{must(tb.chat.seal.pack(t.Context(), tb.bot, sealed{saysLine, "1234", ann.ID, "trades"}))(t), "made by an earlier version or has been changed"},
	} {
		v, state, err := tb.chat.seal.open(t.Context(), tb.bot, c.id)
		if err != nil {
			t.Fatal(err)
		}
		if len(c.id) > longest {
			t.Errorf("an id of %d characters", len(c.id))
		}
		if state == opened && v.line == long {
			if _, err := tb.store.Note(t.Context(), "x"); err != nil {
				t.Fatal(err)
			}
		}
		message := must(tb.chat.post(t.Context(), tb.channel.ID, message{Content: "x", Components: []component{{Type: row, Components: []component{{Type: button, Style: styleSecondary, Label: "It", ID: orX(c.id)}}}}}))(t)
		shown := ann.Await(func(m *chattest.Message) bool { return m.ID == message })
		if said := ann.Press(shown, "It").Answer(); !has(c.says)(said) || !said.Ephemeral {
			t.Errorf("%q: %s", c.id, said.Text())
		}
	}
}

func orX(id string) string {
	if id == "" {
		return "x"
	}
	return id
}

func must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// TestPatienceIsAskedFor makes every answer slow: a private one takes its place, a public one is said to all.
func TestPatienceIsAskedFor(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 1)
	tb.timing = func(tm *timing) { tm.answer = time.Nanosecond }
	tb.open().connected()
	ann := tb.guild.Member("ann")
	if said := ann.Slash(tb.channel, "trades", nil).Answer(); !has("You stand in no open trade")(said) || !said.Ephemeral {
		t.Error(said.Text())
	}
	ann.Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 84"})
	all := tb.guild.Member("bo").Await(has("ann can spare lantern 84."))
	if all.Ephemeral {
		t.Error("what is for all was said to one")
	}
	card := ann.Slash(tb.channel, "gaps", chattest.Values{"series": "lantern"}).Answer()
	if !card.V2 || len(card.Attachments) != 1 {
		t.Errorf("%+v", card)
	}
}

// TestWhoHasWaitedIsAskedForPatienceAtOnce: what was kept for us while a session was lost is old when it comes, and is acknowledged
// at once, however long the answer takes.
func TestWhoHasWaitedIsAskedForPatienceAtOnce(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)
	made := func(ago time.Duration) string {
		return strconv.FormatInt((now.Add(-ago).UnixMilli()-1420070400000)<<22, 10) // Discord, Reference, Snowflakes
	}
	for _, c := range []struct{ made, heard, want time.Duration }{
		{0, 0, 0},
		{300 * time.Millisecond, 100 * time.Millisecond, 300 * time.Millisecond},
		{2400 * time.Millisecond, 10 * time.Millisecond, 2400 * time.Millisecond},
		{-time.Second, 200 * time.Millisecond, 200 * time.Millisecond}, // the service's clock is ahead
		{time.Hour, 200 * time.Millisecond, 200 * time.Millisecond},    // no clock is so far behind: the id says something else
	} {
		i := &interaction{ID: made(c.made), received: now.Add(-c.heard)}
		if got := i.waited(now); got != c.want {
			t.Errorf("made %v ago and heard %v ago: %v, want %v", c.made, c.heard, got, c.want)
		}
	}
}

// TestAnswersSurviveFaults has the service fail in the middle of an answer.
func TestAnswersSurviveFaults(t *testing.T) {
	t.Parallel()
	for name, fault := range map[string]func() *chattest.Fault{
		"500": func() *chattest.Fault { return chattest.Status(500) }, "502": func() *chattest.Fault { return chattest.Status(502) },
		"503": func() *chattest.Fault { return chattest.Status(503) }, "cut before": chattest.CutBefore, "cut after": chattest.CutAfter,
		"fails after": func() *chattest.Fault { return chattest.FailAfter(500) }, "limited": func() *chattest.Fault { return chattest.Limited("user", 100*time.Millisecond) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb := newTable(t, chattest.Lenient()).connected()
			ann := tb.guild.Member("ann")
			f := tb.Fail("POST /interactions/**", 1, fault())
			if said := ann.Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 84"}).Answer(); said.Content != "ann can spare lantern 84." {
				t.Error(said.Text())
			}
			if f.Hits() != 1 {
				t.Errorf("the fault came %d times", f.Hits())
			}
			if n := len(ann.Screen(tb.channel)); n != 1 {
				t.Errorf("ann reads %d messages", n)
			}
		})
	}
}

// TestWhatWasDoneAndNotHeardIsSaidLater loses the whole answer to a change.
func TestWhatWasDoneAndNotHeardIsSaidLater(t *testing.T) {
	t.Parallel()
	tb := newTable(t, chattest.Lenient()).connected()
	ann := tb.guild.Member("ann")
	lost := tb.Fail("POST /interactions/**", 1, chattest.Refuse(404, 10062, "Unknown interaction"))
	ann.Slash(tb.channel, "have", chattest.Values{"pieces": "lantern 84"})
	eventually(t, "nothing was lost", func() bool { return lost.Hits() == 1 })
	eventually(t, "nothing waits", func() bool {
		i := ann.Slash(tb.channel, "trades", nil)
		i.Answer()
		tb.settled()
		all := i.FollowUps(0)
		return len(all) == 1 && has("lantern: 1 of 9")(all[0])
	})
}

// TestNoticesSurviveFaults has the service fail in the middle of a private message, in each of its ways: it arrives, once.
func TestNoticesSurviveFaults(t *testing.T) {
	t.Parallel()
	for name, fault := range map[string]func() *chattest.Fault{
		"500": func() *chattest.Fault { return chattest.Status(500) }, "502": func() *chattest.Fault { return chattest.Status(502) },
		"503": func() *chattest.Fault { return chattest.Status(503) }, "cut before": chattest.CutBefore, "cut after": chattest.CutAfter,
		"fails after": func() *chattest.Fault { return chattest.FailAfter(502) }, "slow": func() *chattest.Fault { return chattest.SlowAnswer(time.Second) },
		"garbled": chattest.Garbled, "limited by HTML": func() *chattest.Fault { return chattest.LimitedByHTML(time.Second) },
		"limited":          func() *chattest.Fault { return chattest.Limited("user", 200*time.Millisecond) },
		"limited for all":  func() *chattest.Fault { return chattest.Limited("shared", 200*time.Millisecond) },
		"limited globally": func() *chattest.Fault { return chattest.Limited("global", 200*time.Millisecond) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb := newTable(t, chattest.Lenient()).connected()
			ann := tb.guild.Member("ann")
			ann.Slash(tb.channel, "reach", chattest.Values{"how": "message"}).Answer()
			for _, route := range []string{"POST /users/@me/channels", "POST /channels/*/messages"} {
				tb.Fail(route, 1, fault())
			}
			tb.match()
			ann.Await(has("bo can spare lantern 84, which you want."))
			tb.settled()
			if n := len(ann.Screen(ann.DM())); n != 1 {
				t.Errorf("told %d times", n)
			}
		})
	}
}

// TestAThreadThatCannotBeHad has the service refuse a thread for every reason it has: what was to be said waits for the visit.
func TestAThreadThatCannotBeHad(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		route        string
		status, code int
	}{
		"no permission":      {"POST /channels/*/threads", 403, 50013},
		"too many threads":   {"POST /channels/*/threads", 400, 160006},
		"no such channel":    {"POST /channels/*/threads", 404, 10003},
		"not in the server":  {"PUT /channels/*/thread-members/*", 404, 10007},
		"nothing to be said": {"POST /channels/*/messages", 403, 50001},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb := newTable(t, chattest.Lenient()).connected()
			if err := tb.bot.Arrange(t.Context(), tb.guild.ID, func(g *bot.Group) { g.Channel, g.Threads = tb.channel.ID, true }); err != nil {
				t.Fatal(err)
			}
			ann := tb.guild.Member("ann")
			ann.Slash(tb.channel, "reach", chattest.Values{"how": "thread"}).Answer()
			tb.Fail(c.route, -1, chattest.Refuse(c.status, c.code, "No"))
			tb.match()
			tb.settled()
			if more := ann.Slash(tb.channel, "trades", nil).FollowUps(1); !has("bo can spare lantern 84")(more[0]) {
				t.Error(more[0].Text())
			}
		})
	}
}

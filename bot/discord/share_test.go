package discord

import (
	"slices"
	"strings"
	"testing"

	"spareounce/bot"
	"spareounce/bot/chattest"
)

// allowThreads has a keeper choose the channel and allow threads in it.
func (tb *table) allowThreads() {
	tb.t.Helper()
	err := tb.bot.Arrange(tb.t.Context(), tb.guild.ID, func(g *bot.Group) { g.Channel, g.Threads = tb.channel.ID, true })
	if err != nil {
		tb.t.Fatal(err)
	}
}

// agree has ann and bo agree on trade 1, a swap.
func (tb *table) agree() (ann, bo *chattest.Member) {
	tb.t.Helper()
	ann, bo = tb.guild.Member("ann"), tb.guild.Member("bo")
	for who, lines := range map[*chattest.Member][2]string{ann: {"lantern 84", "lantern 88"}, bo: {"lantern 88", "lantern 84"}} {
		who.Slash(tb.channel, "double", chattest.Values{"pieces": lines[0]}).Answer()
		who.Slash(tb.channel, "want", chattest.Values{"pieces": lines[1]}).Answer()
	}
	tb.settled()
	tb.says(ann, "accept 1", "you said yes")
	tb.says(bo, "accept 1", "is agreed")
	return ann, bo
}

// says has a member type a line, and reads the answer.
func (tb *table) says(who *chattest.Member, line, want string) {
	tb.t.Helper()
	if said := who.Slash(tb.channel, "say", chattest.Values{"line": line}).Answer(); !has(want)(said) {
		tb.t.Fatalf("%q: %s", line, said.Text())
	}
}

// thread is the one thread of the channel.
func (tb *table) thread() *chattest.Channel {
	tb.t.Helper()
	tb.settled()
	all := tb.channel.Threads()
	if len(all) != 1 {
		tb.t.Fatalf("%d threads\n%s", len(all), tb.log)
	}
	return all[0]
}

// asked counts requests.
func (tb *table) asked(method, path string) (n int) {
	for _, r := range tb.Requests() {
		if r.Method == method && pathFits(path, r.Path) {
			n++
		}
	}
	return n
}

func pathFits(pattern, path string) bool {
	want, got := strings.Split(pattern, "/"), strings.Split(path, "/")
	return len(want) == len(got) && !slices.ContainsFunc(want, func(part string) bool {
		i := slices.Index(want, part)
		return part != "*" && got[i] != part
	})
}

// shared is what the one message of a thread says now.
func shared(t *testing.T, who *chattest.Member, thread *chattest.Channel) *chattest.Message {
	t.Helper()
	all := slices.DeleteFunc(who.Screen(thread), func(m *chattest.Message) bool { return m.Ephemeral })
	if len(all) != 1 {
		t.Fatalf("%s reads %d messages in the thread", who.Name, len(all))
	}
	return all[0]
}

// TestATradeHasAThread plays a swap to its end: one thread with both parties and nobody else, one message that follows the
// trade, archived at the end.
func TestATradeHasAThread(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.allowThreads()
	tb.says(tb.guild.Member("ann"), "topup 7", "7.00")
	ann, bo := tb.agree()
	cy := tb.guild.Member("cy")
	thread := tb.thread()
	if thread.Kind != chattest.PrivateThread || thread.Name != "Trade 1" {
		t.Errorf("%+v", thread)
	}
	in := thread.Members()
	if len(in) != 3 || !slices.Contains(in, ann) || !slices.Contains(in, bo) {
		t.Error(in)
	}
	if n := len(cy.Screen(thread)); n != 0 {
		t.Errorf("somebody else reads %d messages", n)
	}
	first := shared(t, ann, thread)
	for _, want := range []string{
		"Trade 1, a swap: agreed, not all has arrived.", "ann to bo, lantern 84: to be sent by", "bo to ann, lantern 88: to be sent by",
		"exchange addresses in your own private messages, never here", "I hold neither money nor metal", "[I have sent it]", "[It has arrived]",
	} {
		if !has(want)(first) {
			t.Errorf("nothing says %q:\n%s", want, first.Text())
		}
	}
	if len(first.Pinged) > 0 {
		t.Error("somebody was pinged")
	}
	if said := cy.Slash(tb.channel, "trade", chattest.Values{"trade": 1}).Answer(); has("lantern")(said) {
		t.Error(said.Text())
	}
	tb.says(ann, "sent 1 by Northpost AB 123", "Noted that you sent")
	eventually(t, "the message does not follow", func() bool { return has("ann to bo, lantern 84: on its way")(first.Now()) })
	if said := bo.Press(first.Now(), "I have sent it").Answer(); !said.Ephemeral || !has("Noted that you sent")(said) {
		t.Error(said.Text())
	}
	if said := bo.Press(first.Now(), "It has arrived").Answer(); !has("has arrived")(said) {
		t.Error(said.Text())
	}
	eventually(t, "the message does not follow", func() bool {
		return has("ann to bo, lantern 84: arrived")(first.Now()) && has("bo to ann, lantern 88: on its way")(first.Now())
	})
	tb.says(bo, "checked 1", "is yours now")
	tb.says(ann, "arrived 1", "has arrived")
	tb.says(ann, "checked 1", "closed")
	tb.settled()
	if archived, _ := thread.Archived(); !archived {
		t.Error("the thread is open still")
	}
	last := shared(t, bo, thread)
	if last.ID != first.ID || !has("Trade 1, a swap: closed, all has arrived.")(last) || !has("Nothing more comes here")(last) || len(last.Buttons()) != 0 {
		t.Error(last.Text())
	}
	for _, x := range bo.Saw() {
		if x.Message.Channel == thread && !x.Message.Ephemeral && (has("Northpost")(x.Message) || has("7.00")(x.Message) || has("limit")(x.Message)) {
			t.Errorf("the thread tells too much: %s", x.Message.Text())
		}
	}
	for path, want := range map[string]int{"POST /channels/" + tb.channel.ID + "/threads": 1, "POST /channels/" + thread.ID + "/messages": 1, "PUT /channels/" + thread.ID + "/thread-members/*": 2} {
		method, path, _ := strings.Cut(path, " ")
		if n := tb.asked(method, path); n != want {
			t.Errorf("%s %s was asked %d times", method, path, n)
		}
	}
}

// TestNoThreadUnlessAllowed has a group that allows none, and one that stops allowing them.
func TestNoThreadUnlessAllowed(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann, _ := tb.agree()
	tb.says(ann, "sent 1", "Noted that you sent")
	tb.settled()
	if n := len(tb.channel.Threads()); n != 0 {
		t.Errorf("%d threads were opened", n)
	}
}

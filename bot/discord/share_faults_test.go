package discord

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"spareounce/bot"
	"spareounce/bot/chattest"
)

// told counts what a member reads, in private or beside an answer, that has these words.
func told(who *chattest.Member, words string) (n int) {
	for _, x := range who.Saw() {
		if x.Change == chattest.Said && has(words)(x.Message) {
			n++
		}
	}
	return n
}

// keeper is a keeper who is written to when something comes up.
func (tb *table) keeper() *chattest.Member {
	tb.t.Helper()
	tb.says(tb.guild.Owner, "reach message", "I will write to you")
	return tb.guild.Owner
}

// TestTheKeeperIsToldWhatIsLacking has the group allow threads and the server not. Trades go on as without, the keeper hears
// of it once, and the thread is opened at the trade's next move when it may be.
func TestTheKeeperIsToldWhatIsLacking(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		lacks chattest.Permissions
		want  string
	}{
		"to create": {chattest.CreatePrivateThreads, "in #general I lack: Create Private Threads."},
		"to speak":  {chattest.SendMessagesInThreads, "in #general I lack: Send Messages in Threads."},
		"to see":    {chattest.ViewChannel, "I lack: View Channel."},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb := newTable(t).connected()
			tb.allowThreads()
			keeper := tb.keeper()
			tb.channel.Deny(tb.ApplicationID(), c.lacks)
			ann, bo := tb.agree()
			tb.settled()
			if n := told(keeper, c.want); n != 1 {
				t.Fatalf("the keeper is told %d times", n)
			}
			for _, th := range tb.channel.Threads() {
				if in := th.Members(); len(in) != 1 {
					t.Error("parties are in a thread in which nothing is said", in)
				}
			}
			tb.says(ann, "sent 1", "Noted that you sent")
			tb.settled()
			if n := told(bo, "ann has sent lantern 84"); n != 0 {
				t.Error("bo was written to who did not ask for it")
			}
			if n := told(keeper, c.want); n != 1 {
				t.Errorf("the keeper is told %d times", n)
			}
			if n := tb.asked("POST", "/channels/"+tb.channel.ID+"/threads"); n != 1 {
				t.Errorf("a thread was asked for %d times in vain", n)
			}
			tb.channel.Allow(tb.ApplicationID(), c.lacks)
			tb.says(bo, "arrived 1", "has arrived")
			thread := tb.thread()
			if said := shared(t, ann, thread); !has("ann to bo, lantern 84: arrived")(said) {
				t.Error(said.Text())
			}
			if in := thread.Members(); !slices.Contains(in, bo) || len(in) != 3 {
				t.Error(in)
			}
		})
	}
}

// TestThereIsNoRoomForAThread has a server whose threads are all in use.
func TestThereIsNoRoomForAThread(t *testing.T) {
	t.Parallel()
	tb := newTable(t, chattest.WithThreads(1)).connected()
	tb.allowThreads()
	keeper := tb.keeper()
	other := must(tb.chat.makeThread(t.Context(), tb.channel.ID, "A chat", 0))(t)
	ann, _ := tb.agree()
	tb.settled()
	if n := told(keeper, "this server has as many open ones as it may"); n != 1 {
		t.Errorf("the keeper is told %d times", n)
	}
	tb.channel.Threads()[0].Archive(false)
	tb.says(ann, "sent 1", "Noted that you sent")
	tb.settled()
	if all := tb.channel.Threads(); len(all) != 2 || all[0].ID != other || len(all[1].Members()) != 3 {
		t.Error(all)
	}
}

// TestTheChannelIsGone has no channel chosen, then one that was deleted.
func TestTheChannelIsGone(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	keeper := tb.keeper()
	trades := tb.guild.Channel("trades")
	err := tb.bot.Arrange(t.Context(), tb.guild.ID, func(g *bot.Group) { g.Channel, g.Threads = trades.ID, true })
	if err != nil {
		t.Fatal(err)
	}
	trades.Delete()
	ann, _ := tb.agree()
	tb.settled()
	if n := told(keeper, "no channel is chosen for it"); n != 1 {
		t.Errorf("the keeper is told %d times", n)
	}
	tb.allowThreads()
	tb.says(ann, "sent 1", "Noted that you sent")
	if said := shared(t, ann, tb.thread()); !has("on its way")(said) {
		t.Error(said.Text())
	}
}

// TestNoSecondThread loses the answer to the request for a thread, in every way, and the one to the message in it.
func TestNoSecondThread(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		on    string
		times int
		fault func() *chattest.Fault
	}{
		"cut before":          {"threads", 1, chattest.CutBefore},
		"cut after":           {"threads", 1, chattest.CutAfter},
		"fails after":         {"threads", 1, func() *chattest.Fault { return chattest.FailAfter(502) }},
		"garbled":             {"threads", 1, chattest.Garbled},
		"silence":             {"threads", 1, chattest.Silence},
		"limited":             {"threads", 1, func() *chattest.Fault { return chattest.Limited("user", 100*time.Millisecond) }},
		"message cut after":   {"messages", tries, chattest.CutAfter},
		"message fails after": {"messages", tries, func() *chattest.Fault { return chattest.FailAfter(500) }},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb := prepare(t, 4, chattest.Lenient())
			tb.within = 2 * time.Second
			tb.open().connected()
			tb.allowThreads()
			f := tb.Fail("POST /channels/*/"+c.on, c.times, c.fault())
			ann, bo := tb.agree()
			thread := tb.thread()
			if f.Hits() != c.times {
				t.Errorf("the fault came %d times", f.Hits())
			}
			if in := thread.Members(); len(in) != 3 || !slices.Contains(in, ann) || !slices.Contains(in, bo) {
				t.Error(in)
			}
			shared(t, ann, thread)
		})
	}
}

// TestACrashBetweenOpeningAndNoting has a thread opened and nothing noted of it. Another of the same name, in which somebody
// spoke, is of another time and stays as it is.
func TestACrashBetweenOpeningAndNoting(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.allowThreads()
	ctx := t.Context()
	old := must(tb.chat.makeThread(ctx, tb.channel.ID, "Trade 1", 0))(t)
	if _, err := tb.chat.post(ctx, old, message{Content: "Said long ago."}); err != nil {
		t.Fatal(err)
	}
	if err := tb.bot.AskPlace(ctx, tb.guild.ID, "trade 1"); err != nil {
		t.Fatal(err)
	}
	opened := must(tb.chat.makeThread(ctx, tb.channel.ID, "Trade 1", 0))(t)
	ann, bo := tb.agree()
	tb.settled()
	all := tb.channel.Threads()
	if len(all) != 2 || len(all[0].Members()) != 1 || all[1].ID != opened || len(all[1].Members()) != 3 {
		t.Fatalf("%+v", all)
	}
	first := shared(t, ann, all[1])

	// And one between saying and noting: the message is found.
	place := must(tb.bot.PlaceOf(ctx, tb.guild.ID, "trade 1"))(t)
	place.Message, place.Shown = "", ""
	if err := tb.bot.SavePlace(ctx, tb.guild.ID, "trade 1", place); err != nil {
		t.Fatal(err)
	}
	tb.says(bo, "sent 1", "Noted that you sent")
	tb.settled()
	if now := shared(t, ann, all[1]); now.ID != first.ID || !has("bo to ann, lantern 88: on its way")(now) {
		t.Error(now.Text())
	}
}

// TestTwoProcessesOpenOneThread has two share a database, and many moves come at once.
func TestTwoProcessesOpenOneThread(t *testing.T) {
	t.Parallel()
	tb := newTable(t)
	_, _, _, stop := tb.serve(Config{})
	defer func() {
		if err := stop(); err != nil {
			t.Error(err)
		}
	}()
	tb.connected()
	tb.allowThreads()
	tb.Fail("POST /channels/*/threads", 1, chattest.SlowAnswer(500*time.Millisecond))
	ann, bo := tb.agree()
	eventually(t, "no thread is opened", func() bool { return len(tb.channel.Threads()) == 1 }) // and nobody knows of it yet
	for _, line := range []string{"sent 1", "arrived 1", "checked 1"} {
		for _, who := range []*chattest.Member{ann, bo} {
			who.Slash(tb.channel, "say", chattest.Values{"line": line}).Answer()
		}
	}
	thread := tb.thread()
	if said := shared(t, ann, thread); !has("Trade 1, a swap: closed")(said) {
		t.Error(said.Text())
	}
	if archived, _ := thread.Archived(); !archived {
		t.Error("the thread is open still")
	}
	if n := tb.asked("POST", "/channels/*/threads"); n != 1 {
		t.Errorf("a thread was asked for %d times", n)
	}
}

// TestARestartWhileAThreadIsOpened stops the program when the thread is there and the answer is not, and starts it again.
func TestARestartWhileAThreadIsOpened(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.allowThreads()
	f := tb.Fail("POST /channels/*/threads", 1, chattest.Silence())
	ann, _ := tb.agree()
	eventually(t, "no thread is asked for", func() bool { return f.Hits() == 1 && len(tb.channel.Threads()) == 1 })
	if err := tb.stop(); err != nil {
		t.Fatal(err)
	}
	tb.store, tb.bot, tb.chat, tb.stop = tb.serve(Config{})
	tb.identified(2)
	eventually(t, "the thread stays empty", func() bool { return len(tb.channel.Threads()[0].Members()) == 3 })
	shared(t, ann, tb.thread())
	if n := tb.asked("POST", "/channels/*/threads"); n != 1 {
		t.Errorf("a thread was asked for %d times", n)
	}
}

// TestAThreadIsArchivedLockedOrDeleted has keepers and time do to a thread what they do.
func TestAThreadIsArchivedLockedOrDeleted(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.allowThreads()
	ann, bo := tb.agree()
	thread := tb.thread()
	thread.Archive(false) // nobody wrote for a week
	tb.says(ann, "sent 1", "Noted that you sent")
	tb.settled()
	if said := shared(t, ann, thread); !has("ann to bo, lantern 84: on its way")(said) {
		t.Error(said.Text())
	}
	thread.Archive(true) // a moderator closed it: it is left as it is, and the trade goes on
	tb.says(bo, "arrived 1", "has arrived")
	tb.settled()
	if said := shared(t, ann, thread); !has("ann to bo, lantern 84: on its way")(said) {
		t.Error(said.Text())
	}
	thread.Delete()
	for _, line := range []string{"checked 1", "sent 1"} {
		tb.says(bo, line, "rade 1")
	}
	tb.settled()
	if n := len(tb.channel.Threads()); n != 0 {
		t.Errorf("%d threads were opened anew", n)
	}
	asked := len(tb.Requests())
	tb.says(ann, "arrived 1", "has arrived")
	tb.settled()
	for _, r := range tb.Requests()[asked:] {
		if strings.Contains(r.Path, "/threads") || strings.Contains(r.Path, thread.ID) {
			t.Errorf("%s %s of a thread that is gone", r.Method, r.Path)
		}
	}
}

// TestAPartyWhoHasLeft has one party leave the server before the other says yes.
func TestAPartyWhoHasLeft(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.allowThreads()
	ann, bo := tb.agree()
	thread := tb.thread()
	tb.guild.Leave(ann)
	tb.says(bo, "sent 1", "Noted that you sent")
	tb.settled()
	if in := thread.Members(); len(in) != 2 || !slices.Contains(in, bo) {
		t.Error(in)
	}
	if n := tb.asked("PUT", "/channels/*/thread-members/*"); n != 2 {
		t.Errorf("somebody was invited again, %d in all", n)
	}
}

// TestATradeThatIsBrokenClosesItsThread has a keeper end a trade, and a member be forgotten: nobody is named there then, also
// where the thread was locked.
func TestATradeThatIsBrokenClosesItsThread(t *testing.T) {
	t.Parallel()
	for _, locks := range []bool{false, true} {
		t.Run(fmt.Sprint(locks), func(t *testing.T) {
			t.Parallel()
			breakAndForget(t, locks)
		})
	}
}

func breakAndForget(t *testing.T, locks bool) {
	tb := newTable(t).connected()
	if locks {
		tb.guild.BotMay(chattest.BotUsual | chattest.ManageThreads)
	}
	tb.allowThreads()
	ann, bo := tb.agree()
	thread := tb.thread()
	tb.says(tb.guild.Owner, "break 1", "1")
	tb.settled()
	if said := shared(t, bo, thread); !has("Trade 1, a swap: ended by a keeper.")(said) || !has("ann to bo, lantern 84: never said to be sent.")(said) {
		t.Error(said.Text())
	}
	if archived, locked := thread.Archived(); !archived || locked != locks {
		t.Error(archived, locked)
	}
	tb.says(ann, "forget everything", "Deleted.")
	tb.settled()
	if said := shared(t, bo, thread); has("ann")(said) || !has("somebody who left to bo, lantern 84")(said) {
		t.Error(said.Text())
	}
	if archived, locked := thread.Archived(); !archived || locked != locks {
		t.Error(archived, locked)
	}
	if place := must(tb.bot.PlaceOf(t.Context(), tb.guild.ID, "trade 1"))(t); slices.Contains(place.Invited, ann.ID) || !place.Over {
		t.Errorf("%+v", place)
	}
}

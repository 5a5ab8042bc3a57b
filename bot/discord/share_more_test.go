package discord

import (
	"net/http"
	"slices"
	"testing"

	"spareounce/bot"
	"spareounce/bot/chattest"
)

// TestTheMessageOfATradeWasDeleted has a moderator delete the message in a thread: the next move is said anew, once.
func TestTheMessageOfATradeWasDeleted(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.allowThreads()
	ann, bo := tb.agree()
	thread := tb.thread()
	first := shared(t, ann, thread)
	err := tb.chat.door.do(t.Context(), call{
		method: http.MethodDelete, path: []string{"channels", thread.ID, "messages", first.ID}, route: "/channels/{channel}/messages/{message}", place: thread.ID,
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, who := range []*chattest.Member{ann, bo} {
		tb.says(who, "sent 1", "Noted that you sent")
		tb.settled()
	}
	now := shared(t, ann, thread)
	if now.ID == first.ID || !has("ann to bo, lantern 84: on its way")(now) || !has("bo to ann, lantern 88: on its way")(now) {
		t.Error(now.Text())
	}
}

// TestAThreadIsFull has the service take no more members into a thread, once: who was not added is not tried again.
func TestAThreadIsFull(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.allowThreads()
	tb.Fail("PUT /channels/*/thread-members/*", 1, chattest.Refuse(400, 30033, "Maximum number of thread participants has been reached (1000)"))
	ann, _ := tb.agree()
	thread := tb.thread()
	tb.says(ann, "sent 1", "Noted that you sent")
	tb.settled()
	if in := thread.Members(); len(in) != 2 {
		t.Error(in)
	}
	if n := tb.asked("PUT", "/channels/*/thread-members/*"); n != 2 {
		t.Errorf("%d were asked in", n)
	}
}

// TestThreadsAreForbiddenLater has a keeper forbid threads while trades have some: those are seen to their end, and a trade
// agreed after that has none.
func TestThreadsAreForbiddenLater(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.allowThreads()
	ann, bo := tb.agree()
	thread := tb.thread()
	if err := tb.bot.Arrange(t.Context(), tb.guild.ID, func(g *bot.Group) { g.Threads = false }); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"sent 1", "arrived 1", "checked 1"} {
		for _, who := range []*chattest.Member{ann, bo} {
			tb.says(who, line, "rade 1")
		}
	}
	tb.settled()
	if archived, _ := thread.Archived(); !archived || !has("closed, all has arrived")(shared(t, ann, thread)) {
		t.Error(shared(t, ann, thread).Text())
	}
	for who, pieces := range map[*chattest.Member][2]string{ann: {"lantern 82", "lantern 86"}, bo: {"lantern 86", "lantern 82"}} {
		tb.says(who, "double "+pieces[0], "lantern")
		tb.says(who, "want "+pieces[1], "lantern")
	}
	tb.settled()
	for _, who := range []*chattest.Member{ann, bo} {
		tb.says(who, "accept 2", "2")
	}
	tb.settled()
	if all := tb.channel.Threads(); len(all) != 1 || !slices.Contains(all, thread) {
		t.Error(all)
	}
}

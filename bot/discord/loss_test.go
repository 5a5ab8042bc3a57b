package discord

import (
	"sync"
	"testing"
	"time"

	"spareounce/bot/chattest"
)

// chatter is a member who speaks all the time.
type chatter struct {
	tb    *table
	end   chan struct{}
	done  sync.WaitGroup
	said  []*chattest.Interaction
	also  []*chattest.Interaction // said by another
	typed []*chattest.Interaction // and was to be offered how it goes on
}

// talks has a member begin to speak all the time.
func (tb *table) talks(who string) *chatter { return tb.talksIn(tb.guild, who) }

func (tb *table) talksIn(g *chattest.Guild, who string) *chatter {
	k := &chatter{tb: tb, end: make(chan struct{})}
	member, channel := g.Member(who), g.Channel("general")
	k.done.Go(func() {
		every := time.NewTicker(100 * time.Millisecond)
		defer every.Stop()
		for {
			k.said = append(k.said, member.Slash(channel, "trades", nil))
			if len(k.said)%5 == 0 {
				k.typed = append(k.typed, member.Complete(channel, "help", "about", "wan", nil))
			}
			select {
			case <-k.end:
				return
			case <-every.C:
			}
		}
	})
	return k
}

// all ends the talk and gives all that was said.
func (k *chatter) all() []*chattest.Interaction {
	close(k.end)
	k.done.Wait()
	return k.said
}

// nothingLost ends the talk: everything that was said was answered once, and in time.
func (k *chatter) nothingLost() {
	k.tb.t.Helper()
	var worst time.Duration
	all := append(k.all(), k.also...)
	for _, i := range all {
		k.tb.answeredOnce(i)
		took, _ := i.Took()
		worst = max(worst, took)
	}
	for _, i := range k.typed {
		if !i.Acknowledged() || !i.Answered() { // who hears it twice offers twice, and the service takes one
			k.tb.t.Errorf("nothing was offered: %s", i.Story())
		}
	}
	k.tb.t.Logf("%d were said, and acknowledged after %v at most", len(all), worst.Round(time.Millisecond))
}

func (tb *table) answeredOnce(i *chattest.Interaction) {
	tb.t.Helper()
	if !i.Acknowledged() || !i.Answered() || i.Attempts() != 1 {
		tb.t.Errorf("not answered once: %s", i.Story())
	}
}

// TestNothingIsLost has a member speak all the time while a connection ends in each way in which its session does not.
func TestNothingIsLost(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		options []chattest.Option
		happens func(*table)
		anew    bool // a session begins, and none is taken up
	}{
		"cut":                             {happens: func(tb *table) { tb.CutConnections() }},
		"half open":                       {options: []chattest.Option{chattest.WithHeartbeat(400 * time.Millisecond)}, happens: func(tb *table) { tb.HalfOpen() }},
		"invalid for now":                 {happens: func(tb *table) { tb.InvalidateSessions(true) }},
		"closed, and to be resumed":       {happens: func(tb *table) { tb.CloseConnections(chattest.CloseUnknown, "") }},
		"closed as servers close":         {happens: func(tb *table) { tb.CloseConnections(1001, "") }},
		"asked to connect anew":           {happens: func(tb *table) { tb.Reconnect() }, anew: true},
		"cut before the new one is ready": {happens: cutOnTheWay},
		"cut twice":                       {happens: func(tb *table) { tb.Fail("GATEWAY /resume", 1, chattest.Status(503)); tb.CutConnections() }},
		"refused for now":                 {happens: func(tb *table) { tb.Fail("GATEWAY /resume", 1, chattest.RefuseResume(true)); tb.CutConnections() }},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb := newTable(t, c.options...).connected()
			tb.hears("bo")
			k := tb.talks("ann")
			time.Sleep(200 * time.Millisecond)
			c.happens(tb)
			cy := tb.guild.Member("cy")
			for range 3 { // at once, for what happens is over soon
				k.also = append(k.also, cy.Slash(tb.channel, "trades", nil))
			}
			if c.anew {
				tb.identified(2)
			} else {
				tb.resumed(1)
			}
			time.Sleep(200 * time.Millisecond)
			k.nothingLost()
		})
	}
}

// cutOnTheWay has the service ask for a new connection and cut the old one while the new one is on its way.
func cutOnTheWay(tb *table) {
	f := tb.Fail("GET /gateway/bot", 1, chattest.Slow(time.Second))
	tb.Reconnect()
	for f.Hits() == 0 {
		time.Sleep(time.Millisecond)
	}
	tb.CutConnections()
}

// TestOnlyWhatTheServiceDroppedIsLost ends a session for good: whoever speaks while there is none is not heard, for the
// service tells nobody, and everybody else is.
func TestOnlyWhatTheServiceDroppedIsLost(t *testing.T) {
	t.Parallel()
	for name, ends := range map[string]func(*table){
		"refused for good": func(tb *table) { tb.Fail("GATEWAY /resume", 1, chattest.RefuseResume(false)); tb.CutConnections() },
		"invalid":          func(tb *table) { tb.InvalidateSessions(false) },
		"closed with 4009": func(tb *table) { tb.CloseConnections(chattest.CloseTimedOut, "") },
		"expired":          func(tb *table) { expire(tb) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb := newTable(t, chattest.Lenient()).connected()
			tb.hears("bo")
			ends(tb)
			k := tb.talks("ann")
			tb.identified(2)
			tb.connected()
			time.Sleep(200 * time.Millisecond)
			lost := 0
			for _, i := range k.all() {
				if i.Reached() {
					tb.answeredOnce(i)
				} else if lost++; i.Attempts() > 0 {
					t.Errorf("answered though nobody was told: %s", i.Story())
				}
			}
			t.Logf("%d of %d were lost by the service", lost, len(k.said))
		})
	}
}

// expire cuts the connections and lets their sessions' time go by before they can be taken up.
func expire(tb *table) {
	f := tb.Fail("GATEWAY /**", 1, chattest.Slow(time.Second))
	tb.CutConnections()
	for f.Hits() == 0 || tb.Connections() > 0 {
		time.Sleep(time.Millisecond)
	}
	tb.ExpireSessions()
}

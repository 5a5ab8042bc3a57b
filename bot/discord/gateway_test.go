package discord

import (
	"strings"
	"testing"
	"time"

	"spareounce/bot/chattest"
)

// hears has a member ask something and be answered: the bot is there.
func (tb *table) hears(who string) {
	tb.t.Helper()
	i := tb.guild.Member(who).Slash(tb.channel, "trades", nil)
	if !i.Answered() || i.Failed() {
		tb.t.Errorf("%s is not answered: %s\n%s", who, i.Story(), tb.log)
	}
}

// connections waits until so many sessions have been identified.
func (tb *table) identified(n int) {
	tb.t.Helper()
	for end := time.Now().Add(15 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		if got, _ := tb.Identified(); got >= n {
			return
		}
		if time.Now().After(end) {
			got, _ := tb.Identified()
			tb.t.Fatalf("%d sessions were identified, not %d\n%s", got, n, tb.log)
		}
	}
}

// resumed waits until so many sessions have been taken up again, each where it should be.
func (tb *table) resumed(n int) {
	tb.t.Helper()
	for end := time.Now().Add(15 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		_, got := tb.Identified()
		if got >= n {
			break
		}
		if time.Now().After(end) {
			tb.t.Fatalf("%d sessions were taken up, not %d\n%s", got, n, tb.log)
		}
	}
	if n := tb.Astray(); n > 0 {
		tb.t.Errorf("%d sessions were taken up at another address than their own", n)
	}
}

// TestTheGatewayIsLostAndFound has the gateway do everything that it may do, and then asks something.
func TestTheGatewayIsLostAndFound(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		options []chattest.Option
		before  func(*chattest.Server) // the first connection
		then    func(*chattest.Server) // once connected
		resumed bool                   // and then the session is taken up again
	}{
		"no HELLO":              {before: func(s *chattest.Server) { s.Fail("GATEWAY /", 1, chattest.NoHello()) }},
		"reconnect before all":  {before: func(s *chattest.Server) { s.Fail("GATEWAY /", 1, chattest.ReconnectBeforeHello()) }},
		"reconnect first":       {before: func(s *chattest.Server) { s.Fail("GATEWAY /", 2, chattest.ReconnectFirst()) }},
		"refused":               {before: func(s *chattest.Server) { s.Fail("GATEWAY /", 2, chattest.Status(503)) }},
		"no gateway is named":   {before: func(s *chattest.Server) { s.Fail("GET /gateway/bot", 2, chattest.Status(500)) }},
		"reconnect":             {then: func(s *chattest.Server) { s.Reconnect() }},
		"invalid session":       {then: func(s *chattest.Server) { s.InvalidateSessions(false) }},
		"resumable session":     {then: func(s *chattest.Server) { s.InvalidateSessions(true) }, resumed: true},
		"cut":                   {then: func(s *chattest.Server) { s.CutConnections() }, resumed: true},
		"closed with 1000":      {then: func(s *chattest.Server) { s.CloseConnections(1000, "") }, resumed: true},
		"closed with 4000":      {then: func(s *chattest.Server) { s.CloseConnections(4000, "") }, resumed: true},
		"closed with 4007":      {then: func(s *chattest.Server) { s.CloseConnections(4007, "") }},
		"closed with 4009":      {then: func(s *chattest.Server) { s.CloseConnections(4009, "") }},
		"half open":             {options: []chattest.Option{chattest.WithHeartbeat(150 * time.Millisecond)}, then: func(s *chattest.Server) { s.HalfOpen() }, resumed: true},
		"no acknowledgement":    {options: []chattest.Option{chattest.WithHeartbeat(150 * time.Millisecond)}, then: func(s *chattest.Server) { s.NoAcks(true); time.Sleep(500 * time.Millisecond); s.NoAcks(false) }, resumed: true},
		"asked for a heartbeat": {then: func(s *chattest.Server) { s.AskHeartbeat(); s.CutConnections() }, resumed: true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb := prepare(t, 4, append([]chattest.Option{chattest.Lenient()}, c.options...)...)
			if c.before != nil {
				c.before(tb.Server)
			}
			tb.timing = func(tm *timing) { tm.open, tm.resume = 500*time.Millisecond, 500*time.Millisecond }
			tb.open().connected()
			if c.before != nil {
				tb.logged("msg=connected") // a session that was cut on its way may look connected from the other side
				tb.hears("ann")
			}
			if c.then != nil {
				tb.identified(1)
				tb.hears("ann")
				c.then(tb.Server)
				if c.resumed {
					tb.resumed(1)
				} else {
					tb.identified(2)
				}
			}
			tb.connected()
			tb.hears("bo")
		})
	}
}

// TestOneSessionUntilTheNextIsReady keeps asking while the service asks for new connections: nobody goes unanswered.
func TestOneSessionUntilTheNextIsReady(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.identified(1)
	for n := range 4 {
		tb.Reconnect()
		for range 5 {
			tb.hears("ann")
		}
		tb.identified(2 + n)
	}
}

// TestWhatWouldDoHarmIsNotTriedAgain has the service refuse us for good: the operator reads why, and nothing is tried.
func TestWhatWouldDoHarmIsNotTriedAgain(t *testing.T) {
	t.Parallel()
	for code, says := range map[int]string{4004: "does not accept the token", 4010: "does not exist", 4012: "no longer speaks", 4013: "does not know an intent", 4014: "does not allow an intent"} {
		tb := newTable(t, chattest.Lenient()).connected()
		tb.identified(1)
		tb.CloseConnections(code, "")
		ended := make(chan error, 1)
		go func() { ended <- tb.wait() }()
		select {
		case err := <-ended:
			if err == nil || !strings.Contains(err.Error(), says) {
				t.Errorf("%d: %v", code, err)
			}
		case <-time.After(10 * time.Second):
			t.Fatalf("%d: still running", code)
		}
		if n, _ := tb.Identified(); n != 1 {
			t.Errorf("%d: identified %d times", code, n)
		}
		tb.stop = func() error { return nil }
	}
}

// TestARefusedTokenStopsTheProgram starts with a token that is not one of the service's.
func TestARefusedTokenStopsTheProgram(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 1, chattest.Lenient())
	tb.token = "not.the.token"
	tb.open()
	if err := tb.wait(); err == nil || !strings.Contains(err.Error(), "does not accept the token") {
		t.Error(err)
	}
	if n := len(tb.Requests()); n != 1 {
		t.Errorf("%d requests were made with a refused token", n)
	}
	tb.stop = func() error { return nil }
}

// TestTwoProcessesShareTheWork runs two on one database: each shard is served by one, an interaction that both hear is
// answered once, and when one goes the other takes over.
func TestTwoProcessesShareTheWork(t *testing.T) {
	t.Parallel()
	tb := newTable(t, chattest.WithShards(2, 2500)).connected()
	tb.identified(2)
	_, _, other, stop := tb.serve(Config{})
	defer func() { _ = stop() }()
	serves := func(s *Service) int { return int(s.serving.Load()) }
	for end := time.Now().Add(15 * time.Second); serves(tb.chat) != 1 || serves(other) != 1; time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("%d and %d shards are served\n%s", serves(tb.chat), serves(other), tb.log)
		}
	}
	tb.identified(3) // until then nobody is there for the shard that changes hands
	tb.hears("ann")
	if err := tb.stop(); err != nil {
		t.Error(err)
	}
	for end := time.Now().Add(15 * time.Second); serves(other) != 2; time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("the other serves %d shards\n%s", serves(other), tb.log)
		}
	}
	tb.identified(4)
	tb.hears("bo")
}

// TestTheSameInteractionTwiceIsAnsweredOnce repeats one that was answered, and one that is being answered.
func TestTheSameInteractionTwiceIsAnsweredOnce(t *testing.T) {
	t.Parallel()
	tb := newTable(t, chattest.Lenient()).connected()
	ann := tb.guild.Member("ann")
	tb.HoldEvents()
	i := ann.Slash(tb.channel, "got", chattest.Values{"pieces": "lantern 84"})
	i.Repeat()
	tb.ReleaseEvents(true)
	i.Answer()
	i.Repeat()
	tb.hears("ann")
	if said := ann.Slash(tb.channel, "gaps", nil).Answer(); !strings.HasPrefix(said.Content, "lantern: 1 of 9, missing 82, 83, 85-89, ND.") {
		t.Errorf("got once, but it reads %q", said.Content)
	}
	if n := i.Attempts(); n != 1 {
		t.Errorf("answered %d times", n)
	}
}

// TestAnInteractionThatComesTooLateIsDropped sends one that is older than the service waits.
func TestAnInteractionThatComesTooLateIsDropped(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 1, chattest.Lenient(), chattest.WithClock(time.Now))
	tb.timing = func(tm *timing) { tm.dead, tm.ignoreSkew = answerWithin, usualTiming.ignoreSkew }
	tb.open().connected()
	ann := tb.guild.Member("ann")
	tb.HoldEvents()
	i := ann.Slash(tb.channel, "got", chattest.Values{"pieces": "lantern 84"})
	time.Sleep(answerWithin + tb.chat.timing.ignoreSkew + 200*time.Millisecond)
	tb.ReleaseEvents(false)
	tb.hears("ann")
	if i.Attempts() != 0 {
		t.Error("a dead interaction was answered")
	}
	if said := ann.Slash(tb.channel, "gaps", nil).Answer(); strings.Contains(said.Content, "lantern") {
		t.Errorf("what was asked too late was done: %q", said.Content)
	}
}

// TestAServerThatSendsUsAwayIsNoted tells removal from an outage, and finds out about a removal that we did not hear.
func TestAServerThatSendsUsAwayIsNoted(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	gone := func() bool {
		groups, err := tb.bot.Groups(t.Context())
		return err == nil && len(groups) == 0
	}
	await := func(want bool, what string) {
		t.Helper()
		for end := time.Now().Add(10 * time.Second); gone() != want; time.Sleep(5 * time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("%s\n%s", what, tb.log)
			}
		}
	}
	tb.guild.Outage(true)
	time.Sleep(100 * time.Millisecond)
	if gone() {
		t.Fatal("an outage was taken for a removal")
	}
	tb.guild.Outage(false)
	tb.guild.Remove()
	await(true, "a removal was not noted")
	tb.guild.Invite()
	await(false, "coming back was not noted")
	tb.HoldEvents()
	tb.guild.Remove()
	tb.CutConnections()
	tb.ReleaseEvents(false)
	await(true, "a removal that we did not hear was not found out")
	tb.connected()
	tb.guild.Invite() // under the name that it had before
	await(false, "coming back after that was not noted")
}

// logged waits until the log holds some words.
func (tb *table) logged(words string) {
	tb.t.Helper()
	for end := time.Now().Add(15 * time.Second); !strings.Contains(tb.log.String(), words); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			tb.t.Fatalf("nothing says %q\n%s", words, tb.log)
		}
	}
}

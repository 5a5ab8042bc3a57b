package discord

import (
	"cmp"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"spareounce/bot/chattest"
)

// troubles are what goes wrong in a life, one after another, each again and again.
type troubles struct {
	l       *life
	kinds   []trouble
	at      int
	mending []func() // what must end before the next trouble
	fails   []*failing
	times   map[string]int // by what the stand-in calls it, how often it has happened
	down    []down
}

// trouble is one thing that goes wrong: what the stand-in calls it, and the doing.
type trouble struct {
	what string
	do   func()
}

// failing is a fault that waits for requests that fit.
type failing struct {
	*chattest.Fault
	what string
	on   string
	at   time.Time
}

// down is when we may have been away from the gateway.
type down struct{ from, to time.Time }

const (
	posting   = "POST /channels/*/messages"
	changing  = "PATCH /channels/*/messages/*"
	answering = "POST /interactions/**"
	editing   = "PATCH /webhooks/**"
	gateways  = "GET /gateway/bot"
	greeting  = "POST /users/@me/channels"
)

func newTroubles(l *life) *troubles {
	s := &troubles{l: l, times: map[string]int{}}
	for _, code := range []int{1000, 1001, 4000, chattest.CloseBadSequence, chattest.CloseRateLimited, chattest.CloseTimedOut} {
		s.cuts("CloseConnections", func() { l.CloseConnections(code, "") })
	}
	s.cuts("Reconnect", l.Reconnect)
	s.cuts("CutConnections", l.CutConnections)
	s.cuts("HalfOpen", l.HalfOpen)
	s.cuts("InvalidateSessions", func() { l.InvalidateSessions(true) })
	s.cuts("InvalidateSessions", func() { l.InvalidateSessions(false) })
	s.cuts("NoAcks", func() { l.NoAcks(true); s.later(func() { l.NoAcks(false) }) })
	s.greets("NoHello", chattest.NoHello)
	s.greets("ReconnectBeforeHello", chattest.ReconnectBeforeHello)
	s.greets("ReconnectFirst", chattest.ReconnectFirst)
	for _, resumable := range []bool{true, false} {
		s.cuts("RefuseResume", func() {
			s.fail("RefuseResume", "GATEWAY /resume", chattest.RefuseResume(resumable))
			l.CutConnections()
		})
	}
	s.cuts("ExpireSessions", func() { l.CutConnections(); l.ExpireSessions() })
	s.add("AskHeartbeat", l.AskHeartbeat)
	s.add("Emit", func() { l.Emit("SOMETHING_NEW", map[string]any{"id": "1", "guild_id": l.guild.ID}) })
	s.add("Repeat", func() { l.asks("repeated", l.members[0].Slash(l.channel, "trades", nil)).Repeat() })
	s.add("Age", func() {
		old := l.asks("aged", l.members[1].Slash(l.channel, "have", chattest.Values{"pieces": "lantern 85"}))
		old.aged = true
		old.Age(time.Hour)
	})
	for _, reversed := range []bool{false, true} {
		s.add("HoldEvents", func() {
			l.HoldEvents()
			for range 5 {
				l.speak()
			}
			s.times["ReleaseEvents"]++
			l.ReleaseEvents(reversed)
		})
	}
	s.add("members close their messages", func() {
		l.shy[0].CloseDMs(true)
		s.later(func() { l.shy[0].CloseDMs(false) })
	})
	s.add("an outage", func() { l.guild.Outage(true); s.later(func() { l.guild.Outage(false) }) })
	s.add("a channel is closed to us", func() {
		l.posts.Deny(l.ApplicationID(), chattest.SendMessages)
		s.later(func() { l.posts.Allow(l.ApplicationID(), chattest.SendMessages) })
	})
	for _, status := range []int{500, 502, 503, 504} {
		for _, on := range []string{posting, changing, answering, editing} {
			s.fails1("Status", on, func() *chattest.Fault { return chattest.Status(status) })
		}
	}
	s.fails1("Status", greeting, func() *chattest.Fault { return chattest.Status(500) })
	s.cuts("Status", func() { s.fail("Status", gateways, chattest.Status(503)); l.CutConnections() })
	for _, scope := range []string{"user", "global", "shared"} {
		for _, on := range []string{posting, changing, answering} {
			s.fails1("Limited", on, func() *chattest.Fault { return chattest.Limited(scope, 1500*time.Millisecond) })
		}
	}
	for _, on := range []string{posting, answering} {
		s.fails1("LimitedByHTML", on, func() *chattest.Fault { return chattest.LimitedByHTML(time.Second) })
		s.fails1("Slow", on, func() *chattest.Fault { return chattest.Slow(300 * time.Millisecond) })
		s.fails1("SlowAnswer", on, func() *chattest.Fault { return chattest.SlowAnswer(300 * time.Millisecond) })
		s.fails1("CutBefore", on, chattest.CutBefore)
		s.fails1("CutAfter", on, chattest.CutAfter)
		s.fails1("Silence", on, chattest.Silence)
		s.fails1("FailAfter", on, func() *chattest.Fault { return chattest.FailAfter(502) })
		s.fails1("Garbled", on, chattest.Garbled)
	}
	s.fails1("Refuse", posting, func() *chattest.Fault { return chattest.Refuse(403, missingAccess, "Missing Access") })
	l.random.Shuffle(len(s.kinds), func(i, j int) { s.kinds[i], s.kinds[j] = s.kinds[j], s.kinds[i] })
	slices.SortStableFunc(s.kinds, func(a, b trouble) int { return cmp.Compare(long[a.what], long[b.what]) }) // for short lives
	return s
}

// long are the troubles after which we are away for long: nothing tells us of them.
var long = map[string]int{"HalfOpen": 1, "NoAcks": 1, "NoHello": 1}

func (s *troubles) add(what string, do func()) { s.kinds = append(s.kinds, trouble{what, do}) }

// cuts adds a trouble in which we may be away for a while.
func (s *troubles) cuts(what string, do func()) {
	s.add(what, func() {
		s.down = append(s.down, down{from: time.Now().Add(-time.Second)})
		do()
	})
}

// greets adds a trouble in which the gateway greets us wrongly when we come back.
func (s *troubles) greets(what string, how func() *chattest.Fault) {
	s.cuts(what, func() { s.fail(what, "GATEWAY /**", how()); s.l.CutConnections() })
}

// fails1 adds a trouble in which the next request that fits fails.
func (s *troubles) fails1(what, on string, how func() *chattest.Fault) {
	s.add(what, func() { s.fail(what, on, how()) })
}

// fail has the next request that fits fail, unless another fault waits for such a one: several in a row would make a fault
// that lasts for longer than a member waits.
func (s *troubles) fail(what, on string, f *chattest.Fault) {
	s.times[what]-- // counted when it happens
	if !slices.ContainsFunc(s.fails, func(o *failing) bool { return o.on == on && o.Hits() == 0 }) {
		s.fails = append(s.fails, &failing{Fault: s.l.Fail(on, 1, f), what: what, on: on, at: time.Now()})
	}
}

// later ends a trouble before the next one begins.
func (s *troubles) later(do func()) { s.mending = append(s.mending, do) }

// next lets the next trouble happen.
func (s *troubles) next() {
	s.mend(10 * time.Second)
	t := s.kinds[s.at%len(s.kinds)]
	s.at++
	s.times[t.what]++
	t.do()
}

// mend ends what has gone on for long enough, and counts the faults that have happened.
func (s *troubles) mend(after time.Duration) {
	for _, do := range s.mending {
		do()
	}
	s.mending = nil
	s.fails = slices.DeleteFunc(s.fails, func(f *failing) bool {
		if f.Hits() == 0 && after > 0 || time.Since(f.at) < after {
			return false
		}
		s.times[f.what] += f.Hits()
		f.Mend()
		return true
	})
}

func (s *troubles) end() { s.mend(0) }

// heardAgain notes that what was asked at a time was heard: what it followed by a second is over.
func (s *troubles) heardAgain(at time.Time) {
	for i := range s.down {
		if d := &s.down[i]; d.to.IsZero() && at.After(d.from.Add(2*time.Second)) {
			d.to = at
		}
	}
}

// away reports whether we may have been away at a time. What is asked is judged in the order in which it was asked.
func (s *troubles) away(at time.Time) bool {
	return slices.ContainsFunc(s.down, func(d down) bool { return at.After(d.from) && (d.to.IsZero() || at.Before(d.to)) })
}

// exempt are the stand-in's means that are no trouble, and why one that is does not belong into a life.
var exempt = map[string]string{
	"Fail": "makes the others happen", "Mend": "ends one", "Hits": "counts one",
	"Recommend":    "more shards are begun beside those there are: TestMoreShards",
	"RestoreToken": "after a token was reset we stop for good: TestWhatWouldDoHarmIsNotTriedAgain",
}

// report lists what has happened. When each trouble has had its turn twice, everything that the stand-in can do must have.
func (s *troubles) report() {
	t := s.l.t
	var list []string
	for _, what := range slices.Sorted(maps.Keys(s.times)) {
		list = append(list, fmt.Sprintf("%s %d", what, s.times[what]))
	}
	t.Logf("what went wrong: %s", strings.Join(list, ", "))
	if s.at < 2*len(s.kinds) {
		return
	}
	files, err := filepath.Glob("../chattest/faults*.go")
	if err != nil || len(files) < 2 {
		t.Fatal("the stand-in's faults are not found", err)
	}
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Name.IsExported() && s.times[fn.Name.Name] < 1 && exempt[fn.Name.Name] == "" {
				t.Errorf("%s: %s has never happened", filepath.Base(file), fn.Name.Name)
			}
		}
	}
}

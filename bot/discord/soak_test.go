package discord

import (
	"fmt"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"spareounce/bot/chattest"
	"spareounce/store"
	"spareounce/store/storetest"
)

// TestSoak has members speak all the time while everything that can go wrong does: nobody who was heard goes unanswered,
// nothing is told twice, and nothing is left behind. It lasts a few seconds; SPAREOUNCE_SOAK=10m makes it last, and
// SPAREOUNCE_SOAK_RATE=50 says how many commands a second.
func TestSoak(t *testing.T) {
	storetest.Database(t) // what this starts stays for other tests
	defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
	t.Run("life", func(t *testing.T) {
		length, rate := 5*time.Second, 8
		if text := os.Getenv("SPAREOUNCE_SOAK"); text != "" {
			given, err := time.ParseDuration(text)
			if err != nil {
				t.Fatal(err)
			}
			length, rate = given, 50
		}
		if text := os.Getenv("SPAREOUNCE_SOAK_RATE"); text != "" {
			if _, err := fmt.Sscan(text, &rate); err != nil {
				t.Fatal(err)
			}
		}
		tb := prepare(t, 4, chattest.Lenient(), chattest.Keep(1000), chattest.WithHeartbeat(700*time.Millisecond))
		tb.quiet = true
		c := &counter{took: map[string]map[string]time.Duration{}}
		tb.counts = c.count
		tb.timing = func(tm *timing) { tm.open = time.Second }
		tb.open().connected()
		l := &life{table: tb, counter: c, told: map[string]map[string]bool{}}
		l.people(24)
		l.live(length, rate)
		l.report(length)
	})
}

// counter notes when interactions were heard, acknowledged and answered.
type counter struct {
	mu   sync.Mutex
	took map[string]map[string]time.Duration
}

func (c *counter) count(kind, id string, d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.took[kind] == nil {
		c.took[kind] = map[string]time.Duration{}
	}
	c.took[kind][id] = d
}

// of lists what was counted, shortest first.
func (c *counter) of(kind string) []time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	var all []time.Duration
	for _, d := range c.took[kind] {
		all = append(all, d)
	}
	slices.Sort(all)
	return all
}

// unanswered counts what was heard and never acknowledged.
func (c *counter) unanswered() (ids []string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for id := range c.took["heard"] {
		if _, ok := c.took["acknowledged"][id]; !ok {
			ids = append(ids, id)
		}
	}
	return ids
}

// life is a group that speaks.
type life struct {
	*table
	counter *counter
	members []*chattest.Member
	told    map[string]map[string]bool // what members were told, and by which messages
	faults  int
	began   runtime.MemStats
}

func (l *life) people(n int) {
	for i := range n {
		m := l.guild.Member(fmt.Sprintf("member%d", i))
		if err := l.store.SaveAccount(l.t.Context(), m.ID, store.Account{Reach: store.ReachMessage}); err != nil {
			l.t.Fatal(err)
		}
		l.members = append(l.members, m)
	}
}

// live has members speak and faults happen for a while.
func (l *life) live(length time.Duration, rate int) {
	random := rand.New(rand.NewPCG(1, 2))
	end, half := time.Now().Add(length), time.Now().Add(length/2)
	speak := time.NewTicker(time.Second / time.Duration(rate))
	defer speak.Stop()
	trouble := time.NewTicker(max(length/120, 700*time.Millisecond))
	defer trouble.Stop()
	for time.Now().Before(end) {
		select {
		case <-speak.C:
			l.speak(random)
		case <-trouble.C:
			l.trouble(random)
			l.note()
		}
		if !half.IsZero() && time.Now().After(half) {
			runtime.GC()
			runtime.ReadMemStats(&l.began)
			half = time.Time{}
		}
	}
	l.connected()
	if err := l.store.Tick(l.t.Context()); err != nil {
		l.t.Fatal(err)
	}
	l.settled()
}

// speak has a member say one of the things that members say.
func (l *life) speak(random *rand.Rand) {
	m := l.members[random.IntN(len(l.members))]
	pieces := fmt.Sprintf("lantern %d", 82+random.IntN(8))
	switch random.IntN(8) {
	case 0:
		m.Slash(l.channel, "have", chattest.Values{"pieces": pieces})
	case 1:
		m.Slash(l.channel, "spare", chattest.Values{"pieces": pieces})
	case 2:
		m.Slash(l.channel, "want", chattest.Values{"pieces": pieces})
	case 3:
		m.Slash(l.channel, "who", chattest.Values{"pieces": pieces})
	case 4:
		m.Slash(l.channel, "gaps", nil)
	case 5:
		m.Slash(l.channel, "trades", nil)
	case 6:
		m.Complete(l.channel, "want", "pieces", "lantern 8", nil)
	case 7:
		m.Slash(m.DM(), "undo", nil)
	}
}

// trouble makes one thing go wrong.
func (l *life) trouble(random *rand.Rand) {
	l.faults++
	all := []func(){
		l.Reconnect, l.CutConnections, l.HalfOpen, l.AskHeartbeat,
		func() { l.InvalidateSessions(random.IntN(2) == 0) },
		func() { l.CloseConnections([]int{1000, 4000, 4007, 4009}[random.IntN(4)], "") },
		func() { l.Fail("GATEWAY /", 1, chattest.NoHello()); l.CutConnections() },
		func() { l.Fail("GATEWAY /", 1, chattest.ReconnectFirst()); l.CutConnections() },
		func() { l.Fail("POST /channels/*/messages", 1, chattest.CutAfter()) },
		func() { l.Fail("POST /channels/*/messages", 1, chattest.FailAfter(500)) },
		func() { l.Fail("POST /channels/*/messages", 1, chattest.Limited("shared", 200*time.Millisecond)) },
		func() { l.Fail("POST /channels/*/messages", 1, chattest.Limited("global", 300*time.Millisecond)) },
		func() { l.Fail("POST /channels/*/messages", 1, chattest.LimitedByHTML(200*time.Millisecond)) },
		func() { l.Fail("POST /interactions/**", 2, chattest.Status(502)) },
		func() { l.Fail("POST /interactions/**", 2, chattest.CutAfter()) },
		func() { l.Fail("POST /interactions/**", 2, chattest.SlowAnswer(300*time.Millisecond)) },
		func() { l.Fail("GET /gateway/bot", 1, chattest.Status(503)); l.CutConnections() },
	}
	all[(l.faults+random.IntN(3))%len(all)]()
}

// note notes what members have been told unasked: a match, of which each is told once.
func (l *life) note() {
	for _, x := range l.Saw() {
		if x.Change != chattest.Said || x.Message.Author.ID != l.ApplicationID() || x.Message.Channel.Kind != chattest.Private || !strings.Contains(x.Message.Content, "which you") {
			continue
		}
		what := x.Message.Channel.ID + " " + x.Message.Content
		if l.told[what] == nil {
			l.told[what] = map[string]bool{}
		}
		l.told[what][x.Message.ID] = true
	}
}

// report says what became of it, and fails where a promise was not kept.
func (l *life) report(length time.Duration) {
	t := l.t
	if ids := l.counter.unanswered(); len(ids) > 0 {
		t.Errorf("%d of %d that were heard were not answered: %v", len(ids), len(l.counter.of("heard")), ids[:min(len(ids), 5)])
	}
	l.note()
	for what, by := range l.told {
		if len(by) > 1 {
			t.Errorf("told %d times: %s", len(by), what)
		}
	}
	if len(l.told) == 0 && length > 30*time.Second {
		t.Error("nobody was told anything")
	}
	runtime.GC()
	var now runtime.MemStats
	runtime.ReadMemStats(&now)
	grown := int64(now.HeapAlloc) - int64(l.began.HeapAlloc)
	if grown > 64<<20 {
		t.Errorf("the heap grew by %d MB in the second half", grown>>20)
	}
	sessions, _ := l.Identified()
	acknowledged, answered := l.counter.of("acknowledged"), l.counter.of("answered")
	t.Logf("%d heard, %d acknowledged, %d answered in %v (%.1f a second); %d faults, %d sessions", len(l.counter.of("heard")), len(acknowledged), len(answered), length,
		float64(len(acknowledged))/length.Seconds(), l.faults, sessions)
	t.Logf("to acknowledgement: p50 %v, p99 %v, worst %v", at(acknowledged, .5), at(acknowledged, .99), at(acknowledged, 1))
	t.Logf("to answer: p50 %v, p99 %v, worst %v", at(answered, .5), at(answered, .99), at(answered, 1))
	t.Logf("the heap grew by %d kB in the second half, to %d MB, stand-in and all; %d limits are remembered", grown>>10, now.HeapAlloc>>20, len(l.chat.door.limits.buckets))
	if sessions < 2 || len(acknowledged) == 0 {
		t.Error("nothing happened")
	}
}

// at is the value below which so large a part of sorted values lies.
func at(sorted []time.Duration, part float64) time.Duration {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[int(part*float64(len(sorted)-1))].Round(10 * time.Microsecond)
}

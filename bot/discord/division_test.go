package discord

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"spareounce/bot/chattest"
)

// until waits until something is so.
func (tb *table) until(what string, so func() bool) {
	tb.t.Helper()
	for end := time.Now().Add(30 * time.Second); !so(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			tb.t.Fatalf("never: %s; leases %v\n%s", what, tb.leases(), tb.log)
		}
	}
}

// takesPart waits until a service stands among those who divide the guilds.
func (tb *table) takesPart(s *Service, shards int) {
	tb.t.Helper()
	tb.until("it takes part", func() bool { return count(tb.leases(), fmt.Sprintf("process of %d %s", shards, s.name)) == 1 })
}

// inShard makes a guild that a shard hears.
func (tb *table) inShard(shard, shards int) *chattest.Guild {
	for {
		g := tb.Guild("Mill Pond Swaps")
		if is, _ := shardOf(g.ID, shards); is == shard {
			return g
		}
		time.Sleep(time.Millisecond)
	}
}

// TestARollingRestart starts a second process and stops the first while a member speaks all the time: the second hears the
// shard before the first lets go of it.
func TestARollingRestart(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.identified(1)
	tb.hears("bo")
	k := tb.talks("ann")
	for n := range 2 {
		_, _, other, stop := tb.serve(Config{})
		tb.takesPart(other, 1)
		if got, _ := tb.Identified(); got != 1+n {
			t.Errorf("%d sessions began, though there is nothing to hand over", got)
		}
		if err := tb.stop(); err != nil {
			t.Error(err)
		}
		tb.stop = stop
		tb.until("the other serves", func() bool { return other.serving.Load() == 1 })
	}
	time.Sleep(200 * time.Millisecond)
	k.nothingLost()
	if identified, resumed := tb.Identified(); identified != 3 || resumed != 0 {
		t.Errorf("%d sessions began, %d were taken up again", identified, resumed)
	}
	tb.until("one connection is left", func() bool { return tb.Connections() == 1 })
}

// TestAShardChangesHands starts a second process for two shards: one of them moves, while a member speaks there.
func TestAShardChangesHands(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 4, chattest.WithShards(2, 2500))
	moves := tb.inShard(1, 2)
	tb.open().connected()
	tb.identified(2)
	tb.until("both are served", func() bool { return tb.chat.serving.Load() == 2 })
	k := tb.talksIn(moves, "ann")
	_, _, other, stop := tb.serve(Config{})
	defer func() { _ = stop() }()
	tb.until("each serves one", func() bool { return tb.chat.serving.Load() == 1 && other.serving.Load() == 1 })
	time.Sleep(200 * time.Millisecond)
	k.nothingLost()
	if identified, resumed := tb.Identified(); identified != 3 || resumed != 0 {
		t.Errorf("%d sessions began, %d were taken up again", identified, resumed)
	}
}

// TestMoreShards has the service want more shards while a member speaks in a guild that goes to another: the new ones are
// heard before the old one ends.
func TestMoreShards(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 4)
	moves := tb.inShard(1, 2)
	tb.timing = func(tm *timing) { tm.recount = 200 * time.Millisecond }
	tb.open().connected()
	tb.identified(1)
	tb.until("it is served", func() bool { return tb.chat.serving.Load() == 1 })
	k := tb.talksIn(moves, "ann")
	tb.Recommend(2)
	tb.identified(3)
	tb.until("two connections are left", func() bool { return tb.chat.serving.Load() == 2 && tb.Connections() == 2 })
	time.Sleep(200 * time.Millisecond)
	k.nothingLost()
}

// TestAProcessWithMoreShardsFollows rolls from one shard to two by starting a process that was told so.
func TestAProcessWithMoreShardsFollows(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	tb.identified(1)
	tb.hears("bo")
	k := tb.talks("ann")
	_, _, other, stop := tb.serve(Config{Shards: 2})
	tb.takesPart(other, 2)
	if err := tb.stop(); err != nil {
		t.Error(err)
	}
	tb.stop = stop
	tb.until("the two are served", func() bool { return other.serving.Load() == 2 && tb.Connections() == 2 })
	time.Sleep(200 * time.Millisecond)
	k.nothingLost()
}

// TestWhoTakesAnOfferAndDies has a process take an offer and be heard of no more: what it would have served is served on.
func TestWhoTakesAnOfferAndDies(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 4, chattest.WithShards(2, 2500))
	moves := tb.inShard(1, 2)
	tb.open().connected()
	tb.until("both are served", func() bool { return whole(tb.leases(), 2) })
	k := tb.talksIn(moves, "ann")
	const ghost, short = "ghost", 600 * time.Millisecond
	tb.until("the ghost takes part, and the offer", func() bool {
		_, _ = tb.store.Lease(t.Context(), "process of 2 ghost", ghost, short)
		taken, err := tb.store.TakeOffer(t.Context(), "next shard 1 of 2", ghost, short)
		return err == nil && taken
	})
	tb.until("the offer is over", func() bool {
		held := tb.leases()
		_, next := held["next shard 1 of 2"]
		return !next && count(held, "process of ") == 1 && held["shard 1 of 2"] == tb.chat.name
	})
	k.nothingLost()
	if n, _ := tb.Identified(); n != 2 || tb.chat.serving.Load() != 2 {
		t.Errorf("%d sessions began, %d shards are served", n, tb.chat.serving.Load())
	}
}

// TestNoShardIsOrphaned has a process whose neighbour may serve one shard only, and counts all the same: every shard is
// served, if by who has more than a share.
func TestNoShardIsOrphaned(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 4, chattest.WithShards(3, 2500))
	_, _, _, stop := tb.serve(Config{Shards: 3, Shard: []int{0}})
	defer func() { _ = stop() }()
	tb.identified(1)
	tb.open()
	tb.until("all are served", func() bool { return whole(tb.leases(), 3) })
}

// TestWhoCantHearLeavesItToOthers has a process that can't find the gateway come first: another one hears the shard, though
// it came later.
func TestWhoCantHearLeavesItToOthers(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 4)
	tb.timing = func(tm *timing) { tm.deaf = 500 * time.Millisecond }
	tb.hurry = func(s *Service) { s.door.client.Transport = nowhere{s.door.client.Transport} }
	_, _, first, stop := tb.serve(Config{Shards: 1})
	defer func() { _ = stop() }()
	tb.until("the first is about to", func() bool { return tb.leases()["next shard 0 of 1"] == first.name })
	tb.hurry = nil
	tb.open()
	tb.until("the second serves", func() bool { return tb.leases()["shard 0 of 1"] == tb.chat.name })
	tb.hears("ann")
}

// nowhere is a network on which the gateway is not found.
type nowhere struct{ http.RoundTripper }

func (l nowhere) RoundTrip(r *http.Request) (*http.Response, error) {
	if strings.HasSuffix(r.URL.Path, "/gateway/bot") {
		return nil, errors.New("there is no way to it")
	}
	return l.RoundTripper.RoundTrip(r)
}

// TestProcessesComeAndGo starts and stops processes at random while members speak on every shard: there is always one left
// who hears, nothing is lost, and in the end each shard is served once.
func TestProcessesComeAndGo(t *testing.T) {
	t.Parallel()
	const shards = 3
	tb := prepare(t, 4, chattest.WithShards(shards, 2500), chattest.Keep(100_000))
	var talkers []*chatter
	var guilds []*chattest.Guild
	for shard := range shards {
		guilds = append(guilds, tb.inShard(shard, shards))
	}
	tb.open().connected()
	tb.until("all are served", func() bool { return whole(tb.leases(), shards) })
	for _, g := range guilds {
		talkers = append(talkers, tb.talksIn(g, "ann"))
	}
	type process struct {
		chat *Service
		stop func() error
	}
	random := rand.New(rand.NewPCG(3, 4))
	running := []process{{tb.chat, tb.stop}}
	for range 8 {
		if n := len(running); n == 1 || n < 3 && random.IntN(2) == 0 {
			_, _, chat, stop := tb.serve(Config{})
			tb.takesPart(chat, shards)
			running = append(running, process{chat, stop})
			continue
		}
		n := random.IntN(len(running))
		if err := running[n].stop(); err != nil {
			t.Error(err)
		}
		running = slices.Delete(running, n, n+1)
	}
	tb.until("each is served once", func() bool {
		serving := 0
		for _, p := range running {
			serving += int(p.chat.serving.Load())
		}
		return whole(tb.leases(), shards) && serving == shards && tb.Connections() == shards
	})
	for _, k := range talkers {
		k.nothingLost()
	}
	for _, p := range running {
		if err := p.stop(); err != nil {
			t.Error(err)
		}
	}
	tb.stop = func() error { return nil }
}

// TestAnOrderlyEnd stops the only process while it answers slowly: what it has heard is answered, at once there is another
// try to connect, and that keeps the pace that the service wants.
func TestAnOrderlyEnd(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 4, chattest.Strict())
	tb.timing = func(tm *timing) { tm.identify = usualTiming.identify }
	tb.open().connected()
	tb.hears("bo")
	tb.Fail("POST /interactions/**", 3, chattest.Slow(500*time.Millisecond))
	ann := tb.guild.Member("ann")
	var said []*chattest.Interaction
	for range 3 {
		said = append(said, ann.Slash(tb.channel, "trades", nil))
	}
	began := time.Now()
	if err := tb.stop(); err != nil {
		t.Error(err)
	}
	if took := time.Since(began); took > 6*time.Second {
		t.Errorf("it took %v to stop, though there was nobody to wait for", took)
	}
	for _, i := range said {
		tb.answeredOnce(i)
	}
	tb.until("it hangs up", func() bool { return tb.Connections() == 0 })
	for name := range tb.leases() {
		if !strings.HasPrefix(name, "identify ") {
			t.Errorf("the lease %q outlives its process", name)
		}
	}
	tb.store, tb.bot, tb.chat, tb.stop = tb.serve(Config{})
	tb.identified(2)
	tb.connected()
	tb.hears("ann")
	if strings.Contains(tb.log.String(), "invalid") {
		t.Errorf("it identified too fast\n%s", tb.log)
	}
}

// TestTheTurnToIdentifyIsKept has one connection take long, so that the turn that was taken before it is an old one when
// it identifies: the next waits all the same.
func TestTheTurnToIdentifyIsKept(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 4, chattest.Strict(), chattest.WithShards(2, 2500), chattest.WithIdentifyBudget(1000, 1))
	tb.timing = func(tm *timing) { tm.identify = usualTiming.identify }
	tb.Fail("GATEWAY /", 1, chattest.Slow(4900*time.Millisecond))
	tb.open()
	tb.until("both are served", func() bool { return whole(tb.leases(), 2) })
	if strings.Contains(tb.log.String(), "invalid") {
		t.Errorf("it identified too fast\n%s", tb.log)
	}
}

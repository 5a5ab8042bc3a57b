package proof

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/bot"
	"spareounce/match/trade"
	"spareounce/store"
	"spareounce/store/storetest"
)

// crowd fills a database with people and their trades.
func crowd(b *testing.B, c storetest.Crowd) (*store.Store, []store.Group, string) {
	b.Helper()
	address := storetest.Database(b)
	s, err := store.Open(b.Context(), address, func() time.Time { return storetest.Now }, quiet())
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(s.Close)
	return s, c.Fill(b, address, s), address
}

// report writes the middle and the slow end of some waits.
func report(b *testing.B, waits []time.Duration) {
	slices.Sort(waits)
	at := func(percent int) float64 { return float64(waits[(len(waits)-1)*percent/100].Microseconds()) / 1000 }
	b.ReportMetric(at(50), "p50-ms")
	b.ReportMetric(at(99), "p99-ms")
	b.ReportMetric(0, "ns/op")
}

// BenchmarkAgree has members say the last yes to swaps, so many at once: the time from each yes to the agreement, and how
// many are agreed in a second. The queue is not at work.
func BenchmarkAgree(b *testing.B) {
	for _, members := range []int{1, 16, 64} {
		b.Run(fmt.Sprint(members), func(b *testing.B) {
			c := storetest.Crowd{Groups: 1, Members: 128, Trades: 1000, Open: 20}
			pairs := c.Members / 2
			if b.N > pairs*c.Open {
				b.Fatalf("there are %d swaps to agree on: run it with -benchtime 1000x", pairs*c.Open)
			}
			s, groups, address := crowd(b, c)
			sayYesFor(b, address, 1)
			all, err := s.Members(b.Context(), groups[0].ID)
			if err != nil {
				b.Fatal(err)
			}
			by := map[string]store.Member{}
			for _, m := range all {
				by[m.Account] = m
			}
			waits := make([]time.Duration, b.N)
			b.ResetTimer()
			var at sync.WaitGroup
			for w := range members {
				at.Go(func() {
					for i := w; i < b.N; i += members {
						pair, n := i%pairs, i/pairs
						m := by[fmt.Sprint("a", 2*pair+1)]
						began := time.Now()
						one, err := s.MoveTrade(b.Context(), m, int64(c.Trades+pair*c.Open+n+1),
							trade.Accept{By: m.Identity(), Version: 1, At: storetest.Now})
						if waits[i] = time.Since(began); err != nil || one.State != trade.Agreed {
							b.Error(one.State, err)
							return
						}
					}
				})
			}
			at.Wait()
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "trades/s")
			report(b, waits)
		})
	}
}

// sayYesFor has one side of every proposal have said yes.
func sayYesFor(b *testing.B, address string, position int) {
	b.Helper()
	conn, err := pgx.Connect(b.Context(), address)
	if err != nil {
		b.Fatal(err)
	}
	defer conn.Close(context.Background())
	if _, err := conn.Exec(b.Context(), `
		UPDATE trade_parties p SET accepted = true FROM trades t
		WHERE t.trade_id = p.trade_id AND state = 'proposed' AND position = $1`, position); err != nil {
		b.Fatal(err)
	}
}

// deaf is a chat that nobody listens to.
type deaf struct{}

func (deaf) Tell(context.Context, string, string, bot.Reply) error { return nil }
func (deaf) Post(context.Context, string, bot.Reply) error         { return nil }

// BenchmarkCommands says what members say among 20,000 trades, with SPAREOUNCE_FULL=1 among a million, in ten groups of a
// hundred members.
func BenchmarkCommands(b *testing.B) {
	c := storetest.Crowd{Groups: 10, Members: 100, Trades: 2_000, Open: 3}
	if os.Getenv("SPAREOUNCE_FULL") != "" {
		c.Trades = 100_000
	}
	s, groups, address := crowd(b, c)
	sayYesFor(b, address, 1)
	g := groups[4]
	talk := bot.New(s, deaf{}, func() time.Time { return storetest.Now }, quiet())
	hear := func(b *testing.B, account, line string) string {
		reply := talk.Hear(b.Context(), bot.Heard{
			Group: g.Chat, Text: line, Private: true,
			From: bot.Speaker{Account: account, Name: "Member " + account[1:]},
		})
		if strings.Contains(reply.Text, "broke") || strings.Contains(reply.Text, "no word of mine") || strings.Contains(reply.Text, "no trade") {
			b.Fatalf("%s: %s", line, reply.Text)
		}
		return reply.Text
	}
	first := c.Trades + 1
	for _, line := range []string{
		"trades", "trade %d", "accept %d", "sent %d", "arrived %d", "checked %d", "history %d", "ledger",
		"who run 1990", "spares", "spare run 1985", "want run 1991", "undo", "scarce run",
	} {
		b.Run(strings.ReplaceAll(line, " %d", ""), func(b *testing.B) {
			var waits []time.Duration
			for i := range b.N {
				said := line
				account := fmt.Sprint("a", 1+i%c.Members)
				if strings.Contains(line, "%d") {
					pair := i % (c.Members / 2)
					account = fmt.Sprint("a", 2*pair+1)
					said = fmt.Sprintf(line, first+pair*c.Open+i/(c.Members/2)%c.Open)
				}
				began := time.Now()
				hear(b, account, said)
				waits = append(waits, time.Since(began))
			}
			report(b, waits)
		})
	}
}

package store_test

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"spareounce/match/series"
	"spareounce/store"
	"spareounce/store/storetest"
)

// crowd fills a group with members who each hold some pieces, can spare some and want some, by a fixed rule: of every ten
// pieces that members spare, most are common and few are scarce.
func crowd(b *testing.B, members, spares, wants int) (*store.Store, store.Group, []store.Member) {
	b.Helper()
	address := storetest.Database(b)
	s, err := store.Open(b.Context(), address, time.Now, slog.New(slog.DiscardHandler))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(s.Close)
	g, err := s.Group(b.Context(), "crowd", "Crowd")
	if err != nil {
		b.Fatal(err)
	}
	for n := range 10 {
		one := run(30)
		one.Code = fmt.Sprintf("run%d", n)
		if err := s.SaveSeries(b.Context(), g.ID, one); err != nil {
			b.Fatal(err)
		}
	}
	if err := s.SaveSpot(b.Context(), g.ID, store.Spot{At: time.Now(), Currency: "USD", Price: 31_20000000, Source: "a keeper"}); err != nil {
		b.Fatal(err)
	}
	conn, err := pgx.Connect(b.Context(), address)
	if err != nil {
		b.Fatal(err)
	}
	defer conn.Close(context.Background())
	for _, sql := range []string{
		fmt.Sprintf(`INSERT INTO members (group_id, account, name, joined_at, told_of)
			SELECT %d, n::text, 'Member ' || n, now(), 1 FROM generate_series(1, %d) n`, g.ID, members),
		fmt.Sprintf(`INSERT INTO holdings (group_id, member_id, series, piece, quantity, spare)
			SELECT group_id, member_id, 'run' || (member_id * 3 + n) %% 10, 1980 + least(29, floor(30 * power(((member_id * 7919 + n * 104729) %% 1000) / 1000.0, 2)))::int, 2, 1
			FROM members, generate_series(1, %d) n ON CONFLICT DO NOTHING`, spares),
		fmt.Sprintf(`INSERT INTO wants (group_id, member_id, series, wanted, quantity)
			SELECT group_id, member_id, 'run' || (member_id * 7 + n) %% 10, 1980 + (member_id * 31 + n * 17) %% 30, 1
			FROM members, generate_series(1, %d) n ON CONFLICT DO NOTHING`, wants),
		`INSERT INTO want_pieces SELECT want_id, group_id, series, wanted FROM wants`,
		`ANALYZE`,
	} {
		if _, err := conn.Exec(b.Context(), sql); err != nil {
			b.Fatal(err)
		}
	}
	if g, err = s.Group(b.Context(), "crowd", "Crowd"); err != nil {
		b.Fatal(err)
	}
	all, err := s.Members(b.Context(), g.ID)
	if err != nil {
		b.Fatal(err)
	}
	return s, g, all
}

// BenchmarkRematch looks for one member's trades after they changed one spare, in a process that has looked before.
func BenchmarkRematch(b *testing.B) {
	for _, members := range []int{30, 300, 3000} {
		b.Run(fmt.Sprint(members), func(b *testing.B) {
			s, _, all := crowd(b, members, 12, 50)
			if err := s.Rematch(b.Context(), all[len(all)-1].ID); err != nil {
				b.Fatal(err)
			}
			n := 0
			for b.Loop() {
				m := all[n%len(all)]
				n++
				b.StopTimer()
				key := store.HoldingKey{Series: "run0", Piece: fmt.Sprint(1980 + n%30), Condition: series.Bright}
				if _, _, err := s.Change(b.Context(), m, "spare", func(shelf *store.Shelf) error {
					shelf.Add(key, 1)
					return shelf.Offer(key, 1, true)
				}); err != nil {
					b.Fatal(err)
				}
				b.StartTimer()
				if err := s.RematchSpare(b.Context(), m.ID, key); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkWho asks who has a piece, of 10,000 members with 100,000 spares.
func BenchmarkWho(b *testing.B) {
	s, _, all := crowd(b, 10_000, 11, 10)
	n := 0
	for b.Loop() {
		n++
		if _, err := s.Who(b.Context(), all[n%len(all)], fmt.Sprintf("run%d", n%10), []string{fmt.Sprint(1980 + n%30)}); err != nil {
			b.Fatal(err)
		}
	}
}

// listener notes when each member was told.
type listener struct {
	unasked
	mu   sync.Mutex
	told map[int64]time.Time
}

func (l *listener) Tell(_ context.Context, _ store.Group, m store.Member, _ []store.Notice) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, ok := l.told[m.ID]; !ok {
		l.told[m.ID] = time.Now()
	}
	return nil
}

// BenchmarkPostToNotice posts a hundred spares a second, each wanted by one other member, and measures the time from the
// post to that member's notice.
func BenchmarkPostToNotice(b *testing.B) {
	s, _, all := crowd(b, 600, 0, 0)
	l := &listener{told: map[int64]time.Time{}}
	ctx, stop := context.WithCancel(b.Context())
	worked := make(chan error, 1)
	go func() { worked <- s.Work(ctx, l, 8, time.Second) }()
	half := len(all) / 2
	posted := map[int64]time.Time{}
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	n := 0
	for b.Loop() {
		if n == 300 {
			b.Fatal("more posts than pieces to be alone with: run it with -benchtime 300x or fewer")
		}
		b.StopTimer()
		wanter, owner := all[n], all[half+n]
		// Each pair is alone with its piece, so that nobody is told of it before.
		code, piece := fmt.Sprintf("run%d", n%10), fmt.Sprint(1980+n/10%30)
		if _, _, err := s.Change(b.Context(), wanter, "want", func(shelf *store.Shelf) error {
			return shelf.Wish(store.WantKey{Series: code, Wanted: piece}, []string{piece}, 1, false, func(*store.Want) {})
		}); err != nil {
			b.Fatal(err)
		}
		<-tick.C
		b.StartTimer()
		posted[wanter.ID] = time.Now()
		if _, _, err := s.Change(b.Context(), owner, "spare", func(shelf *store.Shelf) error {
			return shelf.Offer(store.HoldingKey{Series: code, Piece: piece}, 1, true)
		}); err != nil {
			b.Fatal(err)
		}
		n++
	}
	time.Sleep(2 * time.Second)
	stop()
	if err := <-worked; err != nil {
		b.Fatal(err)
	}
	var waits []time.Duration
	for id, at := range posted {
		if told, ok := l.told[id]; ok && told.After(at) {
			waits = append(waits, told.Sub(at))
		}
	}
	slices.Sort(waits)
	if len(waits) > 0 {
		b.ReportMetric(float64(waits[len(waits)/2].Microseconds())/1000, "p50-ms")
		b.ReportMetric(float64(waits[len(waits)*99/100].Microseconds())/1000, "p99-ms")
		b.ReportMetric(float64(len(waits))/float64(len(posted)), "told/posted")
	}
}

package store_test

import (
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"spareounce/match/trade"
	"spareounce/store"
)

// roundOfSwaps is a round in which members 0 and 1, 2 and 3 and so on could each swap, and no two others.
func roundOfSwaps(t *testing.T, swaps int, together bool) (*table, store.Round) {
	t.Helper()
	tb := newTable(t, 2*swaps)
	r, err := tb.OpenRound(t.Context(), tb.members[0], monday, together)
	if err != nil {
		t.Fatal(err)
	}
	for i, m := range tb.members {
		has, lacks := fmt.Sprint(1980+i), fmt.Sprint(1980+(i^1))
		tb.change(t, m, spare(has, 1))
		tb.change(t, m, want(lacks))
		if r, err = tb.JoinRound(t.Context(), m, true); err != nil {
			t.Fatal(err)
		}
	}
	return tb, r
}

// However many processes take a round up at once, it is cleared once.
func TestRoundIsClearedOnce(t *testing.T) {
	t.Parallel()
	tb, r := roundOfSwaps(t, 3, false)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			if err := tb.ClearRound(t.Context(), r.ID); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	r, err := tb.RoundByID(t.Context(), r.ID)
	if err != nil || r.State != "cleared" || r.Result == nil {
		t.Fatalf("%+v, %v", r, err)
	}
	if r.Result.Trades != 3 || r.Result.Pieces != 6 || r.Result.Members != 6 || r.Result.Left != 0 || !r.Result.Optimal {
		t.Fatalf("%+v", r.Result)
	}
	for _, m := range tb.members {
		open, err := tb.OpenTrades(t.Context(), m)
		if err != nil || len(open) != 1 || open[0].Round != r.ID {
			t.Fatalf("%+v, %v", open, err)
		}
	}
	if _, err := tb.Round(t.Context(), tb.group.ID); !errors.Is(err, store.ErrNoRound) {
		t.Fatal(err)
	}
}

// Whatever members answer, all at once, the trades of a round held together are agreed all or none.
func TestTogetherAllOrNone(t *testing.T) {
	t.Parallel()
	for name, refuses := range map[string]bool{"all accept": false, "one declines": true} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb, r := roundOfSwaps(t, 3, true)
			if err := tb.ClearRound(t.Context(), r.ID); err != nil {
				t.Fatal(err)
			}
			var all sync.WaitGroup
			for i, m := range tb.members {
				open, err := tb.OpenTrades(t.Context(), m)
				if err != nil || len(open) != 1 {
					t.Fatal(open, err)
				}
				var e trade.Event = trade.Accept{By: m.Identity(), Version: 1, At: monday}
				if refuses && i == 3 {
					e = trade.Decline{By: m.Identity()}
				}
				all.Go(func() {
					_, err := tb.MoveTrade(t.Context(), m, open[0].Number, e)
					if refusal, _ := errors.AsType[*trade.Refusal](err); err != nil && (refusal == nil || !refuses) {
						t.Error(err)
					}
				})
			}
			all.Wait()
			want := trade.Agreed
			if refuses {
				want = trade.Ended
			}
			for n := range 3 {
				one, err := tb.TradeOf(t.Context(), tb.members[2*n], numberIn(t, tb, r, 2*n))
				if err != nil || one.State != want {
					t.Errorf("trade %d is %v, %v", one.Number, one.State, err)
				}
			}
		})
	}
}

// numberIn is the number of the trade that a round found for a member, the first three there are.
func numberIn(t *testing.T, tb *table, r store.Round, member int) int64 {
	for number := range int64(3) {
		if one, err := tb.TradeOf(t.Context(), tb.members[member], number+1); err == nil && one.Round == r.ID {
			return one.Number
		}
	}
	t.Fatalf("the round found nothing for member %d", member)
	return 0
}

// Schedules are five fields of cron on the group's clock, which is New York's here: by the IANA time zone database it is five
// hours behind UTC until 8 March 2026, 02:00, and four from then on. No round is held in the hour that is skipped.
func TestSchedules(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 1)
	tb.group.Zone = "America/New_York"
	for _, bad := range []string{"friday", "* * * * *", "*/30 * * * *", "0 0 31 2 *", "0 18 * *", "@every 5s", "TZ=UTC 0 18 * * 5"} {
		if _, err := tb.ScheduleRounds(t.Context(), tb.group, bad, false); !errors.Is(err, store.ErrSchedule) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	for spec, want := range map[string]time.Time{
		"0 18 * * 5": time.Date(2026, 3, 6, 23, 0, 0, 0, time.UTC),
		"0 18 * * 1": time.Date(2026, 3, 2, 23, 0, 0, 0, time.UTC), // today
		"0 18 * * 0": time.Date(2026, 3, 8, 22, 0, 0, 0, time.UTC),
		"30 2 8 3 *": time.Date(2027, 3, 8, 7, 30, 0, 0, time.UTC),
		"15 9 1 * *": time.Date(2026, 4, 1, 13, 15, 0, 0, time.UTC),
	} {
		one, err := tb.ScheduleRounds(t.Context(), tb.group, spec, true)
		if err != nil || !one.Next.Equal(want) {
			t.Errorf("%q is next on %v, %v", spec, one.Next, err)
		}
	}
}

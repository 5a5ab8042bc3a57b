package store_test

import (
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"spareounce/match/trade"
	"spareounce/store"
)

// meetsAt sets the table's meet-up, and has members say that they come.
func (tb *table) meetsAt(t *testing.T, at time.Time, coming ...int) store.Meetup {
	t.Helper()
	if err := tb.CallMeetup(t.Context(), tb.group.ID, at, "the library"); err != nil {
		t.Fatal(err)
	}
	var next store.Meetup
	for _, i := range coming {
		var err error
		if next, err = tb.Come(t.Context(), tb.members[i], true); err != nil {
			t.Fatal(err)
		}
	}
	return next
}

func TestWhoComesToAMeetup(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 3)
	ctx := t.Context()
	if _, err := tb.Come(ctx, tb.members[0], true); !errors.Is(err, store.ErrNoMeetup) {
		t.Fatal(err)
	}
	if err := tb.CallOffMeetup(ctx, tb.group.ID); !errors.Is(err, store.ErrNoMeetup) {
		t.Fatal(err)
	}
	if err := tb.CallMeetup(ctx, tb.group.ID, monday.Add(-13*time.Hour), "the library"); err != nil {
		t.Fatal(err)
	}
	if _, err := tb.Come(ctx, tb.members[0], true); !errors.Is(err, store.ErrNoMeetup) {
		t.Fatalf("%v: that one is over", err)
	}
	next := tb.meetsAt(t, monday.Add(48*time.Hour), 2, 0, 0)
	if want := []int64{tb.members[0].ID, tb.members[2].ID}; !slices.Equal(next.Coming, want) {
		t.Errorf("%v come, want %v", next.Coming, want)
	}
	if err := tb.Leave(ctx, tb.members[2]); err != nil {
		t.Fatal(err)
	}
	next, err := tb.Come(ctx, tb.members[0], false)
	if err != nil || len(next.Coming) != 0 {
		t.Errorf("%v, %v: one does not come, and the other has left", next.Coming, err)
	}
	tb.meetsAt(t, monday.Add(48*time.Hour), 0)
	if next = tb.meetsAt(t, monday.Add(72*time.Hour), 1); len(next.Coming) != 1 {
		t.Errorf("%v come: who comes on one evening need not come on another", next.Coming)
	}
	if err := tb.CallOffMeetup(ctx, tb.group.ID); err != nil {
		t.Fatal(err)
	}
	if _, _, err := tb.Meetup(ctx, tb.group.ID); !errors.Is(err, store.ErrNoMeetup) {
		t.Errorf("%v: it is called off", err)
	}
}

// Only those who come are planned in; what is planned is proposed once, and what can be handed over is said of nobody who
// stays away, of no parcel that has been sent, and of no silent proposal.
func TestPlanOfAMeetup(t *testing.T) {
	t.Parallel()
	tb := newTable(t, 4)
	ctx := t.Context()
	for _, pair := range [][2]int{{0, 1}, {2, 3}} { // each has what the other lacks, and nobody has been asked yet
		for i, m := range pair {
			tb.change(t, tb.members[m], spare(fmt.Sprint(1980+m), 1))
			tb.change(t, tb.members[m], want(fmt.Sprint(1980+pair[1-i])))
		}
	}
	tb.meetsAt(t, monday.Add(48*time.Hour), 0, 1, 3)
	for round, want := range []int{1, 0} {
		if found, proposed, err := tb.PlanMeetup(ctx, tb.group.ID); err != nil || found != 1 || proposed != want {
			t.Errorf("time %d: %d found, %d proposed, %v", round, found, proposed, err)
		}
	}
	next, there, err := tb.Meetup(ctx, tb.group.ID)
	if err != nil || len(there) != 1 || len(there[0].Parties) != 2 {
		t.Fatalf("%+v, %v: members 0 and 1 can swap; member 2, who could with 3, stays away", there, err)
	}
	one := there[0]
	whole := len(one.Items)
	if handed := next.Handovers(one); len(handed) != whole {
		t.Errorf("%v of %d can be handed over", handed, whole)
	}
	silent := one
	silent.Silent = true
	if handed := next.Handovers(silent); handed != nil {
		t.Errorf("%v: nobody may be named", handed)
	}
	for _, e := range []trade.Event{
		trade.Accept{By: one.Parties[0].Member, Version: 1, At: monday},
		trade.Accept{By: one.Parties[1].Member, Version: 1, At: monday},
		trade.Ship{By: one.Parties[0].Member, At: monday},
	} {
		if one.Trade, _, err = one.Apply(e); err != nil {
			t.Fatal(err)
		}
	}
	handed := next.Handovers(one)
	if len(handed) == 0 || len(handed) == whole {
		t.Errorf("%v: what has been sent is not handed over, the rest is", handed)
	}
	for _, h := range handed {
		if h.From != one.Parties[1].Member {
			t.Errorf("%v has been sent", h)
		}
	}
}

package trade_test

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
)

// cell is what an event makes of a trade: a state, with the ending after a slash, or the reason of a refusal in brackets.
type cell struct {
	event trade.Event
	want  string
}

// The state chart, written by hand: what each event makes of the ring in each state.
func TestStateChart(t *testing.T) {
	inTime, late := after(time.Hour), after(lapse)
	for state, cells := range map[string][]cell{
		"proposed": {
			{trade.Accept{By: "ann", Version: 1, At: inTime}, "proposed"},
			{trade.Accept{By: "ann", Version: 1, At: late}, "[too late]"},
			{trade.Accept{By: "ann", Version: 2, At: inTime}, "[stale version]"},
			{trade.Accept{By: "ann", Version: 0, At: inTime}, "[stale version]"},
			{trade.Accept{By: "dee", Version: 1, At: inTime}, "[not yours]"},
			{trade.LeaveOut{By: "bea", Piece: "harbour/86", At: inTime}, "proposed"},
			{trade.LeaveOut{By: "bea", Piece: "harbour/86", Version: 1, At: inTime}, "proposed"},
			{trade.LeaveOut{By: "bea", Piece: "harbour/86", Version: 2, At: inTime}, "[stale version]"},
			{trade.LeaveOut{By: "bea", Piece: "harbour/86", At: late}, "[too late]"},
			{trade.LeaveOut{By: "bea", Piece: "harbour/99", At: inTime}, "[no such piece]"},
			{trade.LeaveOut{By: "bea", Piece: "lantern/ND", At: inTime}, "[empties a leg]"},
			{trade.LeaveOut{By: "dee", Piece: "harbour/86", At: inTime}, "[not yours]"},
			{trade.Decline{By: "ann"}, "ended/declined"},
			{trade.Decline{By: "dee"}, "[not yours]"},
			{trade.Lapse{At: late.Add(-1)}, "[too early]"},
			{trade.Lapse{At: late}, "ended/lapsed"},
			{trade.Overtake{}, "ended/overtaken"},
			{trade.Withdraw{By: "col"}, "ended/withdrawn"},
			{trade.Withdraw{}, "ended/withdrawn"},
			{trade.Withdraw{By: "dee"}, "[not yours]"},
			{trade.TakeBack{By: "ann"}, "[already done]"},
			{trade.TakeBack{By: "dee"}, "[not yours]"},
			{trade.Counter{By: "ann", At: late}, "[too late]"},
			{trade.Counter{By: "ann", Version: 2, At: inTime}, "[stale version]"},
			{trade.Counter{By: "dee", At: inTime}, "[not yours]"},
			{trade.Counter{By: "ann", At: inTime}, "[empties a leg]"},
			{trade.Counter{By: "ann", Items: ring().Items, At: inTime}, "proposed"},
			{trade.Counter{By: "ann", Items: ring().Items, TopUps: pays("bea", "ann", 100, "bea", "col", 300), At: inTime}, "[same terms]"},
			{trade.Counter{By: "ann", Items: ring().Items, TopUps: pays("bea", "bea", 1), At: inTime}, "[no top-up]"},
			{trade.Counter{By: "ann", Items: ring().Items, TopUps: pays("bea", "dee", 1), At: inTime}, "[no top-up]"},
			{trade.Counter{By: "ann", Items: ring().Items, TopUps: pays("bea", "ann", -5), At: inTime}, "[no top-up]"},
			{trade.Counter{By: "ann", Items: ring().Items, TopUps: pays("bea", "ann", 1, "bea", "ann", 2), At: inTime}, "[no top-up]"},
			{trade.Pay{By: "bea"}, "[not agreed]"},
			{trade.GetPaid{By: "ann"}, "[not agreed]"},
			{trade.Arrive{By: "ann"}, "[not agreed]"},
			{trade.Object{By: "ann", Problem: trade.WrongPiece}, "[not agreed]"},
			{trade.Due{At: late}, "[not agreed]"},
			{trade.Ship{By: "ann"}, "[not agreed]"},
			{trade.Receive{By: "ann"}, "[not agreed]"},
			{trade.Break{By: "kip"}, "[not agreed]"},
		},
		"agreed": {
			{trade.Accept{By: "ann", Version: 1, At: inTime}, "[already done]"},
			{trade.Accept{By: "ann", Version: 2, At: inTime}, "[not open]"},
			{trade.Accept{By: "dee", Version: 1, At: inTime}, "[not yours]"},
			{trade.LeaveOut{By: "ann", Piece: "harbour/86", At: inTime}, "[not open]"},
			{trade.Decline{By: "ann"}, "[not open]"},
			{trade.Lapse{At: late}, "[not open]"},
			{trade.Overtake{}, "[not open]"},
			{trade.TakeBack{By: "ann"}, "[not open]"},
			{trade.Counter{By: "ann", At: inTime}, "[not open]"},
			{trade.Withdraw{By: "ann"}, "ended/withdrawn"},
			{trade.Withdraw{}, "[not open]"},
			{trade.Withdraw{By: "dee"}, "[not yours]"},
			{trade.Ship{By: "ann"}, "agreed"},
			{trade.Ship{By: "dee"}, "[not yours]"},
			{trade.PassOn{By: "ann"}, "[not the middle]"},
			{trade.Arrive{By: "ann"}, "agreed"},
			{trade.Object{By: "ann", Problem: trade.WrongPiece}, "agreed"},
			{trade.Object{By: "ann", Problem: trade.NotArrived}, "[not sent]"},
			{trade.Object{By: "ann"}, "[already done]"},
			{trade.Object{By: "dee", Problem: trade.WrongPiece}, "[not yours]"},
			{trade.Receive{By: "ann"}, "agreed"},
			{trade.Receive{By: "dee"}, "[not yours]"},
			{trade.Pay{By: "bea"}, "agreed"},
			{trade.Pay{By: "ann"}, "[nothing to pay]"},
			{trade.Pay{By: "bea", To: "dee"}, "[nothing to pay]"},
			{trade.GetPaid{By: "ann"}, "agreed"},
			{trade.GetPaid{By: "bea"}, "[no money due]"},
			{trade.Due{At: inTime}, "[too early]"},
			{trade.Due{At: after(8 * 24 * time.Hour)}, "agreed"},
			{trade.Break{By: "kip"}, "ended/broken"},
			{trade.Break{By: "ann"}, "[own case]"},
		},
		"closed": append(over(inTime, late),
			cell{trade.Receive{By: "ann"}, "[already done]"},
			cell{trade.Object{By: "ann", Problem: trade.NotAsDescribed}, "[already accepted]"}),
		"ended": append(over(inTime, late),
			cell{trade.Receive{By: "ann"}, "[not agreed]"},
			cell{trade.Object{By: "ann", Problem: trade.NotAsDescribed}, "[not agreed]"}),
	} {
		for _, c := range cells {
			t.Run(fmt.Sprintf("%s %T%+v", state, c.event, c.event), func(t *testing.T) {
				t.Parallel()
				next, _, err := in(t, state).Apply(c.event)
				got := next.State.String()
				if next.Ending != trade.None {
					got += "/" + next.Ending.String()
				}
				if reason, ok := why(err); ok {
					got = "[" + reason.String() + "]"
				}
				if got != c.want {
					t.Errorf("%s, want %s", got, c.want)
				}
			})
		}
	}
}

// over is what becomes of each event when a trade is over.
func over(inTime, late time.Time) []cell {
	return []cell{
		{trade.Accept{By: "ann", Version: 1, At: inTime}, "[not open]"},
		{trade.LeaveOut{By: "ann", Piece: "harbour/86", At: inTime}, "[not open]"},
		{trade.Decline{By: "ann"}, "[not open]"},
		{trade.Lapse{At: late}, "[not open]"},
		{trade.Overtake{}, "[not open]"},
		{trade.Withdraw{By: "ann"}, "[not open]"},
		{trade.Ship{By: "ann"}, "[not agreed]"},
		{trade.Pay{By: "bea"}, "[not agreed]"},
		{trade.GetPaid{By: "ann"}, "[not agreed]"},
		{trade.Due{At: late}, "[not agreed]"},
		{trade.TakeBack{By: "ann"}, "[not open]"},
		{trade.Counter{By: "ann", At: inTime}, "[not open]"},
		{trade.Break{By: "kip"}, "[not agreed]"},
	}
}

// pays lists payments, given as payer, payee and amount in turn.
func pays(words ...any) (all []trade.TopUp) {
	for i := 0; i < len(words); i += 3 {
		all = append(all, trade.TopUp{
			From: match.Member(words[i].(string)), To: match.Member(words[i+1].(string)), Amount: melt.Minor(words[i+2].(int)),
		})
	}
	return all
}

// in is the ring of these tests brought into a state.
func in(t *testing.T, state string) trade.Trade {
	tr := proposed(t, ring())
	switch state {
	case "agreed":
		tr = takes(t, tr, yes()...)
	case "closed":
		tr = takes(t, takes(t, tr, yes()...),
			trade.Receive{By: "ann"}, trade.Receive{By: "bea"}, trade.Receive{By: "col"}, trade.GetPaid{By: "ann"}, trade.GetPaid{By: "col"})
	case "ended":
		tr = takes(t, tr, trade.Decline{By: "bea"})
	}
	if tr.State.String() != state {
		t.Fatalf("%v, want it %s", tr.State, state)
	}
	return tr
}

func TestSayingItTwiceIsHarmless(t *testing.T) {
	tr := proposed(t, ring())
	for _, e := range append(yes(), trade.Ship{By: "ann"}, trade.Receive{By: "bea"}) {
		tr = takes(t, tr, e)
		again, notices, err := tr.Apply(e)
		if reason, _ := why(err); reason != trade.AlreadyDone || notices != nil || !reflect.DeepEqual(again, tr) {
			t.Errorf("%T%+v again: %v, told %v", e, e, err, notices)
		}
	}
}

func TestACounterAsksTheOthersAgain(t *testing.T) {
	tr := takes(t, proposed(t, ring()), trade.Accept{By: "ann", Version: 1, At: start}, trade.Accept{By: "col", Version: 1, At: start})
	tr, notices, err := tr.Apply(trade.LeaveOut{By: "bea", Piece: "harbour/86", Version: 1, At: after(48 * time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	if want := []trade.Notice{{To: "ann", Kind: trade.AskedAgain, About: "bea"}, {To: "col", Kind: trade.AskedAgain, About: "bea"}}; !slices.Equal(notices, want) {
		t.Errorf("told: %v", notices)
	}
	if tr.Version != 2 || !tr.Deadline.Equal(after(48*time.Hour+lapse)) || len(tr.Items) != 3 {
		t.Errorf("version %d, answers by %v, %d pieces", tr.Version, tr.Deadline, len(tr.Items))
	}
	if a, b, c := tr.Parties[0].Accepted, tr.Parties[1].Accepted, tr.Parties[2].Accepted; a || !b || c {
		t.Errorf("said yes: Ann %v, Bea %v, Col %v; want Bea alone", a, b, c)
	}
	// Ann now gives 3500 for 3700, which is as far as her limit goes.
	if want := []trade.TopUp{{From: "ann", To: "col", Amount: 200}, {From: "bea", To: "col", Amount: 100}}; !slices.Equal(tr.TopUps, want) {
		t.Errorf("top-ups: %v", tr.TopUps)
	}
}

func TestACounterKeepsWithinLimits(t *testing.T) {
	terms := ring()
	terms.Items[1].Value, terms.Items[3].Value = 800, 4000 // without harbour/86 Ann gives 3500 for 4000
	terms.Parties[1].TopUpLimit = 1000
	for limit, want := range map[melt.Minor]string{499: "above limit", 500: ""} {
		terms.Parties[0].TopUpLimit = limit
		_, _, err := proposed(t, terms).Apply(trade.LeaveOut{By: "bea", Piece: "harbour/86", At: start})
		if want == "" {
			if err != nil {
				t.Errorf("limit %d: %v", limit, err)
			}
		} else if got, ok := err.(*trade.Refusal); !ok || *got != (trade.Refusal{Why: trade.AboveLimit, By: "ann", Amount: 500, Limit: limit}) {
			t.Errorf("limit %d: %v", limit, err)
		}
	}
	// In a chain, Bea would pass on 3600 for the 3500 that come in.
	_, _, err := proposed(t, chain()).Apply(trade.LeaveOut{By: "col", Piece: "harbour/86", At: start})
	if got, ok := err.(*trade.Refusal); !ok || *got != (trade.Refusal{Why: trade.PassesOnTooMuch, By: "bea", Amount: 100}) {
		t.Errorf("in a chain: %v", err)
	}
}

// The same piece may pass through two hands of a ring: who counters means their own.
func TestACounterMeansOnesOwnPieceFirst(t *testing.T) {
	terms := ring()
	terms.Parties = []trade.Party{party("ann", 9999), party("bea", 9999), party("col", 9999)}
	terms.Items = []trade.Item{
		item("ann", "bea", "harbour/84", 1), item("ann", "bea", "a/1", 1),
		item("bea", "col", "harbour/84", 1), item("bea", "col", "b/1", 1),
		item("col", "ann", "c/1", 1),
	}
	for by, wantFrom := range map[match.Member]match.Member{"ann": "ann", "bea": "bea", "col": "bea"} {
		tr := takes(t, proposed(t, terms), trade.LeaveOut{By: by, Piece: "harbour/84", At: start})
		for _, left := range tr.Items {
			if left.Piece == "harbour/84" && left.From == wantFrom {
				t.Errorf("%s left out the one that %s does not give", by, wantFrom)
			}
		}
		if len(tr.Items) != 4 {
			t.Errorf("%s left out %d pieces", by, 5-len(tr.Items))
		}
	}
}

func TestAChainBeginsWithAGiver(t *testing.T) {
	tr := takes(t, proposed(t, chain()), yes()...)
	for _, c := range []struct {
		event trade.Event
		want  trade.Why
	}{{trade.Ship{By: "col"}, trade.NothingToSend}, {trade.Receive{By: "ann"}, trade.NothingToGet}} {
		if _, _, err := tr.Apply(c.event); err == nil || err.(*trade.Refusal).Why != c.want {
			t.Errorf("%T%+v: %v, want %v", c.event, c.event, err, c.want)
		}
	}
	tr = takes(t, tr, trade.Ship{By: "ann"}, trade.Receive{By: "bea"}, trade.Receive{By: "col"})
	if tr.State != trade.Closed || tr.Parties[2].Shipped || tr.Parties[0].Received {
		t.Errorf("%v, parties %v", tr.State, tr.Parties)
	}
}

func TestPaymentsGoRoundTheRing(t *testing.T) {
	// Ann and Col owe 40 and 30, Bea and Dee are owed 50 and 20.
	tr := proposed(t, trade.Terms{
		Lapse:   lapse,
		Parties: []trade.Party{party("ann", 40), party("bea", 0), party("col", 30), party("dee", 0)},
		Items: []trade.Item{
			item("ann", "bea", "s/1", 60), item("bea", "col", "s/2", 110), item("col", "dee", "s/3", 80), item("dee", "ann", "s/4", 100),
		},
	})
	want := []trade.TopUp{
		{From: "ann", To: "bea", Amount: 40}, {From: "col", To: "bea", Amount: 10}, {From: "col", To: "dee", Amount: 20},
	}
	if !slices.Equal(tr.TopUps, want) {
		t.Errorf("top-ups: %v", tr.TopUps)
	}
	if tr.Balance("ann") != 40 || tr.Balance("bea") != -50 || tr.Balance("kip") != 0 {
		t.Errorf("balances: Ann %d, Bea %d, a stranger %d", tr.Balance("ann"), tr.Balance("bea"), tr.Balance("kip"))
	}
}

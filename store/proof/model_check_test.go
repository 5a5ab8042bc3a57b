package proof

import (
	"testing"
	"time"

	"github.com/anishathalye/porcupine"

	"spareounce/match"
	"spareounce/match/trade"
)

// The model can say no: two swaps that need the same piece may not both be agreed, whatever the order.
func TestOnePieceAgreedTwiceIsNoticed(t *testing.T) {
	begin := world{
		trades: map[int64]trade.Trade{1: swap(t, "1", "2", 10, 20), 2: swap(t, "1", "3", 10, 30)},
		holdings: map[slot]holding{
			{1, "1800"}: {1, 1, 0}, {2, "1801"}: {1, 1, 0}, {3, "1802"}: {1, 1, 0},
		},
		wants: map[int64]want{10: {2, "1800", 1, 0}, 11: {3, "1800", 1, 0}, 20: {1, "1801", 1, 0}, 30: {1, "1802", 1, 0}},
		rows:  map[int64]slot{10: {1, "1800"}, 20: {2, "1801"}, 30: {3, "1802"}},
	}
	deeds := []deed{
		{By: 1, Kind: accept, Trade: 1, Version: 1},
		{By: 1, Kind: accept, Trade: 2, Version: 1},
		{By: 2, Kind: accept, Trade: 1, Version: 1},
		{By: 3, Kind: accept, Trade: 2, Version: 1},
	}
	var possible []porcupine.Operation
	now, state := int64(0), begin
	for n, d := range deeds {
		next, got := state.after(d)
		possible = append(possible, porcupine.Operation{ClientId: n, Input: d, Call: now, Output: got, Return: now + 1})
		now, state = now+2, next
	}
	if state.trades[1].State != trade.Agreed || state.trades[2].Ending != trade.Overtaken {
		t.Fatalf("%v, %v: the first to be agreed overtakes the other", state.trades[1], state.trades[2])
	}
	check := func(history []porcupine.Operation) porcupine.CheckResult {
		return porcupine.CheckOperationsTimeout(model(begin), history, time.Minute)
	}
	if got := check(possible); got != porcupine.Ok {
		t.Errorf("a history that can have been is %s", got)
	}
	both := append([]porcupine.Operation(nil), possible...)
	agreed, _, _ := begin.trades[2].Apply(deeds[1].event())
	agreed, _, _ = agreed.Apply(deeds[3].event())
	both[3].Output = answer{Seen: describe(agreed)}
	if got := check(both); got != porcupine.Illegal {
		t.Errorf("one piece in two agreements is %s", got)
	}
	late := append([]porcupine.Operation(nil), possible...)
	late[2].Output = answer{Unknown: true}
	late[2].Return = 1 << 60
	if got := check(late); got != porcupine.Ok {
		t.Errorf("an answer that was lost is %s", got)
	}
}

// swap is a proposal in which a gives what stands in row 10 for what stands in another; the wants have the same numbers,
// but for the second to want row 10.
func swap(t *testing.T, a, b match.Member, gives, gets int64) trade.Trade {
	t.Helper()
	wants := gives
	if b == "3" {
		wants++
	}
	one, _, err := trade.Propose(trade.Terms{
		Parties: []trade.Party{{Member: a}, {Member: b}},
		Items: []trade.Item{
			{From: a, To: b, Holding: gives, Want: wants, Piece: "run/1800"}, {From: b, To: a, Holding: gets, Want: gets, Piece: "run/x"},
		},
		Lapse: time.Hour,
	}, monday)
	if err != nil {
		t.Fatal(err)
	}
	return one
}

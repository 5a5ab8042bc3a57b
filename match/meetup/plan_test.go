package meetup_test

import (
	"reflect"
	"testing"

	"spareounce/match"
	"spareounce/match/meetup"
)

// Four members in a row of swaps; who is not there is not planned in, and nothing that is handed over costs postage.
func TestPlanIsForThosePresent(t *testing.T) {
	p := &match.Pool{
		Currency: "USD", Ring: 2, MinGain: 1,
		Postage: []match.Tariff{{Parcel: 1_000_000}},
	}
	for i, m := range []match.Member{"ann", "bo", "cy", "dee"} {
		piece := match.Piece("harbour/" + string(rune('a'+i)))
		p.Members = append(p.Members, match.Trader{ID: m, Trades: 1})
		p.Pieces = append(p.Pieces, match.PieceInfo{ID: piece, Value: 3500, Ounces: 1})
		p.Spares = append(p.Spares, match.Spare{Member: m, Piece: piece, Count: 3, Value: 3500})
	}
	for i := range 4 {
		for j := range 4 {
			if i-j == 1 || j-i == 1 {
				p.Wants = append(p.Wants, match.Want{Member: p.Members[i].ID, Fill: []match.Fill{{Piece: p.Pieces[j].ID, Gain: 900}}})
			}
		}
	}
	plan, bound := meetup.Plan(p, []match.Member{"ann", "bo", "cy"}, match.Options{Steps: 100_000})
	if len(plan.Trades) != 2 || plan.Gain != 3600 || !bound.Optimal {
		t.Fatalf("%+v, %+v: ann and bo swap, and so do bo and cy", plan, bound)
	}
	e := meetup.Arrange(meetup.Handovers(plan.Trades))
	if want := []meetup.Round{{{A: "ann", B: "bo"}}, {{A: "bo", B: "cy"}}}; !reflect.DeepEqual(e.Rounds, want) || !e.Fewest {
		t.Errorf("%v: bo can't be at two tables at once", e.Rounds)
	}
	want := []meetup.Handover{{From: "bo", To: "ann", Piece: "harbour/b"}, {From: "bo", To: "cy", Piece: "harbour/b"}}
	if !reflect.DeepEqual(e.Bring["bo"], want) {
		t.Errorf("bo brings %v", e.Bring["bo"])
	}
	if len(p.Members) != 4 || p.Members[0].Trades != 1 || p.Postage == nil {
		t.Error("the pool was changed")
	}
}

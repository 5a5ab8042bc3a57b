package trade_test

import (
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"spareounce/match/trade"
)

func TestProposeAsksEveryone(t *testing.T) {
	zone := time.FixedZone("UTC-5", -5*60*60)
	tr, notices, err := trade.Propose(ring(), start.In(zone))
	if err != nil {
		t.Fatal(err)
	}
	if tr.State != trade.Proposed || tr.Ending != trade.None || tr.Version != 1 {
		t.Errorf("it begins %v %v, version %d", tr.State, tr.Ending, tr.Version)
	}
	if want := time.Date(2031, time.March, 6, 10, 0, 0, 0, time.UTC); tr.Deadline != want {
		t.Errorf("answers are due by %v, want %v", tr.Deadline, want)
	}
	want := []trade.Notice{{To: "ann", Kind: trade.Asked}, {To: "bea", Kind: trade.Asked}, {To: "col", Kind: trade.Asked}}
	if !slices.Equal(notices, want) {
		t.Errorf("told: %v", notices)
	}
	if want := []trade.TopUp{{From: "bea", To: "ann", Amount: 100}, {From: "bea", To: "col", Amount: 300}}; !slices.Equal(tr.TopUps, want) {
		t.Errorf("top-ups: %v", tr.TopUps)
	}
	if tr := proposed(t, chain()); tr.TopUps != nil {
		t.Errorf("money moves in a chain: %v", tr.TopUps)
	}
}

// Whatever its parties are said to have done before, a trade begins with nothing done.
func TestProposeBeginsAfresh(t *testing.T) {
	terms := ring()
	for i := range terms.Parties {
		terms.Parties[i].Accepted, terms.Parties[i].Shipped, terms.Parties[i].Received = true, true, true
	}
	if got, want := proposed(t, terms), proposed(t, ring()); !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestProposeRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*trade.Terms)
		want  trade.Refusal
	}{
		"one party":               {func(x *trade.Terms) { x.Parties = x.Parties[:1] }, trade.Refusal{Why: trade.NoRing}},
		"no time":                 {func(x *trade.Terms) { x.Lapse = 0 }, trade.Refusal{Why: trade.NoRing}},
		"a middle who is a party": {func(x *trade.Terms) { x.Middle = "ann" }, trade.Refusal{Why: trade.NoRing}},
		"an offer by a stranger":  {func(x *trade.Terms) { x.By = "dee" }, trade.Refusal{Why: trade.NotYours, By: "dee"}},
		"a payment of nothing": {
			func(x *trade.Terms) { x.Fixed, x.TopUps = true, pays("bea", "ann", 0) },
			trade.Refusal{Why: trade.NoTopUp, By: "bea"},
		},
		"money in a chain": {
			func(x *trade.Terms) { *x = chain(); x.Fixed, x.TopUps = true, pays("bea", "ann", 1) },
			trade.Refusal{Why: trade.NoTopUp, By: "bea", Amount: 1},
		},
		"a member twice": {
			func(x *trade.Terms) { x.Parties[2].Member = "ann" },
			trade.Refusal{Why: trade.NoRing, By: "ann"},
		},
		"a member without an identity": {func(x *trade.Terms) { x.Parties[0].Member = "" }, trade.Refusal{Why: trade.NoRing}},
		"a limit below zero": {
			func(x *trade.Terms) { x.Parties[1].TopUpLimit = -1 },
			trade.Refusal{Why: trade.NoRing, By: "bea"},
		},
		"a piece for one's own": {func(x *trade.Terms) { x.Items[0].To = "ann" }, trade.Refusal{Why: trade.NoRing, By: "ann"}},
		"a piece against the ring": {
			func(x *trade.Terms) { x.Items = append(x.Items, item("bea", "ann", "harbour/90", 1)) },
			trade.Refusal{Why: trade.NoRing, By: "bea"},
		},
		"a piece of a stranger": {
			func(x *trade.Terms) { x.Items = append(x.Items, item("dee", "ann", "harbour/90", 1)) },
			trade.Refusal{Why: trade.NoRing, By: "dee"},
		},
		"a value below zero":        {func(x *trade.Terms) { x.Items[3].Value = -1 }, trade.Refusal{Why: trade.NoRing, By: "col"}},
		"a party who gives nothing": {func(x *trade.Terms) { x.Items = x.Items[:3] }, trade.Refusal{Why: trade.EmptiesALeg, By: "col"}},
		"a party who pays too much": {
			func(x *trade.Terms) { x.Parties[1].TopUpLimit = 399 },
			trade.Refusal{Why: trade.AboveLimit, By: "bea", Amount: 400, Limit: 399},
		},
		"values beyond counting": {
			func(x *trade.Terms) { x.Items[2].Value, x.Items[3].Value = math.MaxInt64-3800, 1 },
			trade.Refusal{Why: trade.TooLarge, By: "col", Amount: 1},
		},
		"a chain whose last gives": {
			func(x *trade.Terms) { *x = chain(); x.Items = append(x.Items, item("col", "ann", "lantern/ND", 1)) },
			trade.Refusal{Why: trade.NoRing, By: "col"},
		},
		"a chain that passes on more than came in": {
			func(x *trade.Terms) { *x = chain(); x.Items[2].Value = 3801 },
			trade.Refusal{Why: trade.PassesOnTooMuch, By: "bea", Amount: 1},
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			terms := ring()
			c.spoil(&terms)
			tr, notices, err := trade.Propose(terms, start)
			if got, ok := err.(*trade.Refusal); !ok || *got != c.want {
				t.Errorf("%v; want %v", err, &c.want)
			}
			if !reflect.DeepEqual(tr, trade.Trade{}) || notices != nil {
				t.Errorf("refused, yet made %v and told %v", tr, notices)
			}
		})
	}
}

func TestALimitMayBeReached(t *testing.T) {
	terms := ring()
	terms.Parties[1].TopUpLimit = 400
	proposed(t, terms)
	even := chain()
	even.Items[2].Value = 3800
	proposed(t, even)
}

func TestNamesReadBack(t *testing.T) {
	for s := trade.Proposed; s <= trade.Ended; s++ {
		if got, ok := trade.ParseState(s.String()); !ok || got != s {
			t.Errorf("%q reads as %v, %v", s.String(), got, ok)
		}
	}
	for e := trade.None; e <= trade.CalledOff; e++ {
		if got, ok := trade.ParseEnding(e.String()); !ok || got != e {
			t.Errorf("%q reads as %v, %v", e.String(), got, ok)
		}
	}
	for s := trade.Waiting; s <= trade.Done; s++ {
		if got, ok := trade.ParseStage(s.String()); !ok || got != s {
			t.Errorf("%q reads as %v, %v", s.String(), got, ok)
		}
	}
	for p := trade.NoProblem; p <= trade.WrongPiece; p++ {
		if got, ok := trade.ParseProblem(p.String()); !ok || got != p {
			t.Errorf("%q reads as %v, %v", p.String(), got, ok)
		}
	}
	if _, ok := trade.ParseState("open"); ok {
		t.Error("open is no state")
	}
	if _, ok := trade.ParseEnding("sold"); ok {
		t.Error("sold is no ending")
	}
	for got, want := range map[string]string{
		trade.State(-1).String():          "unknown -1",
		trade.Ending(9).String():          "unknown 9",
		trade.NoticeKind(99).String():     "unknown 99",
		trade.ClosedNow.String():          "closed now",
		trade.TooLarge.String():           "too large",
		(trade.OfARound + 1).String():     "unknown 27",
		trade.SameTerms.String():          "same terms",
		trade.KeeperNeeded.String():       "keeper needed",
		trade.Done.String():               "done",
		trade.WrongPiece.String():         "wrong piece",
		(&trade.Refusal{}).Error():        "refused: no ring",
		trade.Proposed.String():           "proposed",
		trade.Agreed.String():             "agreed",
		trade.Closed.String():             "closed",
		trade.Ended.String():              "ended",
		trade.None.String():               "",
		trade.Overtaken.String():          "overtaken",
		(trade.KeeperNeeded + 1).String(): "unknown 21",
		trade.StaleVersion.String():       "stale version",
		trade.NothingToGet.String():       "nothing to get",
		trade.ShippedToYou.String():       "shipped to you",
		trade.PassesOnTooMuch.String():    "passes on too much",
		refused(trade.AboveLimit).Error(): `refused: above limit, member "bea", amount 400, limit 399`,
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func refused(why trade.Why) *trade.Refusal {
	return &trade.Refusal{Why: why, By: "bea", Amount: 400, Limit: 399}
}

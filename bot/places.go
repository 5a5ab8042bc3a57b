package bot

import (
	"slices"

	"spareounce/match/basket"
	"spareounce/match/melt"
	"spareounce/match/series"
	"spareounce/store"
)

// place is something that a piece on offer could fill, and for whom.
type place struct {
	basket.Place
	series string
	pieces []string
	slot   bool        // it is a place in the speaker's set, and not only wanted
	had    string      // the piece that stands in it now, and could make room by moving to a gap; "" in a gap
	top    *melt.Minor // the most its owner would pay; only ever the speaker's own
	least  series.Condition
}

// mine reports whether it is the speaker's.
func (p place) mine() bool { return p.Rank != basket.Others }

// takes reports whether a piece would fill the place. Of the speaker's own they judge the condition by eye when they say
// none; for others silence is no promise.
func (p place) takes(code, piece string, c series.Condition) bool {
	return p.series == code && slices.Contains(p.pieces, piece) && (c.Meets(p.least) || p.mine() && c == series.Unsaid)
}

// begun reports whether a member collects a series: they hold some of it, or have said what counts for them.
func begun(shelf *store.Shelf, code string) bool {
	_, edited := shelf.Sets[code]
	return edited || len(shelf.Held(code)) > 0
}

// myPlaces are the speaker's gaps in a series: of one they have begun the slots that are missing and not on their way in a
// trade, then what they want beyond those.
func myPlaces(shelf *store.Shelf, one series.Series) []place {
	var places []place
	var missing []series.Slot
	if begun(shelf, one.Code) {
		missing = shelf.Completion(one).Missing()
	}
	used := map[store.WantKey]int{} // how much of a want is for a slot
	wants := sortedWants(shelf, one)
	for _, slot := range missing {
		p := place{Place: basket.Place{Rank: basket.Mine, Count: 1}, series: one.Code, pieces: slot.Fill, slot: true}
		for _, key := range wants {
			w := shelf.Wants[key]
			if used[key] == w.Quantity || !slices.ContainsFunc(w.Pieces, func(code string) bool { return slices.Contains(slot.Fill, code) }) {
				continue
			}
			if used[key]++; used[key] <= w.Taken { // an agreed trade brings it
				p.Count = 0
			}
			p.wantedAs(w)
			break
		}
		if p.Count > 0 {
			places = append(places, p)
		}
	}
	for _, key := range wants {
		w := shelf.Wants[key]
		p := place{Place: basket.Place{Rank: basket.Mine, Count: w.Quantity - max(w.Taken, used[key])}, series: one.Code, pieces: w.Pieces}
		if p.wantedAs(w); p.Count > 0 {
			places = append(places, p)
		}
	}
	return places
}

// wantedAs gives a place what its owner said when they asked for it.
func (p *place) wantedAs(w store.Want) {
	p.top, p.least = w.Top, w.Least
	if w.Priority == store.Soon {
		p.Rank = basket.MineSoon
	}
}

// movable are the places in the speaker's set that are filled by a piece which could as well stand in a gap, or make room
// for one that can: what fills any of these then fills a gap. They are found along alternating paths from the gaps, as in
// series.Complete.
func movable(shelf *store.Shelf, one series.Series, gaps []place) []place {
	reached := map[string]bool{}
	for _, p := range gaps {
		if p.slot {
			for _, code := range p.pieces {
				reached[code] = true
			}
		}
	}
	if len(reached) == 0 {
		return nil
	}
	var places []place
	c := shelf.Completion(one)
	taken := make([]bool, len(c.Slots))
	for more := true; more; {
		more = false
		for i, slot := range c.Slots {
			if taken[i] || c.Filled[i] == "" || !reached[c.Filled[i]] {
				continue
			}
			taken[i], more = true, true
			places = append(places, place{
				Place: basket.Place{Rank: basket.Mine, Count: 1}, series: one.Code, pieces: slot.Fill, slot: true, had: c.Filled[i],
			})
			for _, code := range slot.Fill {
				reached[code] = true
			}
		}
	}
	return places
}

// othersPlaces are what other members look for.
func othersPlaces(wants []store.OpenWant) []place {
	places := make([]place, len(wants))
	for i, w := range wants {
		places[i] = place{Place: basket.Place{Rank: basket.Others, Count: w.Left}, series: w.Series, pieces: w.Pieces, least: w.Least}
	}
	return places
}

// most is the most that filling the place with a piece is worth: what its owner named, else what is usual here; nil when
// neither is known.
func (p place) most(values store.Values, code, piece string) *melt.Minor {
	if p.top != nil {
		return p.top
	}
	if w, ok := values.Of(code, piece); ok {
		return &w.Usual
	}
	return nil
}

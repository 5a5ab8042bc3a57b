package match

import (
	"fmt"
	"slices"

	"pgregory.net/rapid"

	"spareounce/match/melt"
)

// dice draws whole numbers evenly, from a seed. (Rapid draws mostly near the ends of a range, and pools so drawn have next
// to no trades.)
type dice uint64

// upTo draws from 0 to n. It is the generator splitmix64 of Steele, Lea and Flood, OOPSLA 2014.
func (d *dice) upTo(n int) int {
	*d += 0x9e3779b97f4a7c15
	z := uint64(*d)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return int((z ^ z>>31) % uint64(n+1))
}

// smallPool draws a pool of a few members in which all that a pool may have turns up: alternatives, counts, values by
// condition, gifts, limits, postage, caps.
func smallPool(most int) *rapid.Generator[*Pool] {
	return rapid.Custom(func(t *rapid.T) *Pool {
		return drawPool(dice(rapid.Uint64().Draw(t, "seed")), most)
	})
}

// drawPool is smallPool by a seed.
func drawPool(d dice, most int) *Pool {
	p := &Pool{
		Spares: []Spare{}, Wants: []Want{}, Currency: "USD", Ring: 2 + d.upTo(2), Chain: d.upTo(4),
		MinGain: melt.Minor(d.upTo(3)),
	}
	regions := []string{"north", "south"}
	for i := range most - d.upTo(most-2) {
		p.Members = append(p.Members, Trader{
			ID: Member(fmt.Sprintf("m%d", i)), Region: regions[d.upTo(1)],
			TopUp: melt.Minor(d.upTo(6)), Trades: 1 + d.upTo(2),
		})
	}
	for i := range 4 - d.upTo(3) {
		p.Pieces = append(p.Pieces, PieceInfo{
			ID: Piece(fmt.Sprintf("harbour/%d", 80+i)), Series: "harbour",
			Ounces: float64(d.upTo(8)) / 4, Value: melt.Minor(d.upTo(10)),
		})
	}
	for _, m := range p.Members {
		for _, piece := range p.Pieces {
			if d.upTo(1) == 0 {
				p.Spares = append(p.Spares, Spare{m.ID, piece.ID, 1 + d.upTo(1), piece.Value + melt.Minor(d.upTo(2)), d.upTo(3) == 0})
			}
		}
		for range 3 - d.upTo(3) {
			fill := []Fill{}
			for _, piece := range p.Pieces {
				if d.upTo(1) == 0 {
					fill = append(fill, Fill{piece.ID, 15 - melt.Minor(d.upTo(15))})
				}
			}
			p.Wants = append(p.Wants, Want{m.ID, fill})
		}
	}
	for _, from := range regions {
		for _, to := range regions {
			if d.upTo(2) > 0 {
				p.Postage = append(p.Postage, Tariff{from, to, melt.Minor(d.upTo(3)), melt.Minor(d.upTo(2))})
			}
		}
	}
	return p
}

// fewTrades draws a small pool that has few enough trades for every set of them to be tried.
func fewTrades(members, most int) *rapid.Generator[*Pool] {
	return rapid.Custom(func(t *rapid.T) *Pool {
		return thin(smallPool(members).Draw(t, "pool"), most)
	})
}

// thin takes wants out of a pool until its arcs have at most so many candidates.
func thin(p *Pool, most int) *Pool {
	for choices(p) > most {
		p.Wants = slices.Delete(p.Wants, len(p.Wants)*3/7, len(p.Wants)*3/7+1)
	}
	return p
}

// choices counts what could be sent, roughly: the candidates of all arcs.
func choices(p *Pool) int {
	n := 0
	for _, w := range p.Wants {
		for _, f := range w.Fill {
			for _, s := range p.Spares {
				if s.Piece == f.Piece && s.Member != w.Member {
					n += s.Count
				}
			}
		}
	}
	return n
}

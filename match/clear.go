package match

import (
	"math"
	"slices"

	"spareounce/match/melt"
)

// Options say how a group is cleared.
type Options struct {
	// Steps is how much work may be done, each about a microsecond of an ordinary machine. The same steps give the same
	// plan everywhere, and more never give a worse one. A plan and a bound are found whatever the steps.
	Steps int
	// Acceptance is the chance that a member says yes to a trade, above 0 and at most 1. A trade of k members then counts
	// with its k-th power. 0 means 1: that all say yes.
	Acceptance float64
	// Progress, if set, is called now and then.
	Progress func(Progress)
}

// Progress is how far a clearing has come.
type Progress struct {
	Steps       int
	Gain, Bound melt.Minor // of the objective, as in Bound
}

// Plan is a set of trades that can all take place.
type Plan struct {
	Trades   []Trade
	Gain     melt.Minor // if everyone says yes
	Expected melt.Minor // if each trade fails with anyone's no, rounded down
}

// Bound is what is known about all plans.
type Bound struct {
	Gain    melt.Minor // no plan has a greater Expected; with everyone's yes that is its Gain
	Optimal bool       // none has a greater one than the plan found
	Steps   int        // work done
}

// Clear finds a plan of great gain for the whole group, and a proven bound on what any plan gains. The money in the pool
// must add up to less than 2^50 minor units, as ReadPool sees to.
func Clear(p *Pool, o Options) (Plan, Bound) {
	c := newClearing(p, o)
	c.run()
	return c.result()
}

// clearing is the work on one pool.
type clearing struct {
	o       Options
	m       *market
	w       *master
	p       *planner
	bound   int64 // in units
	spent   int   // by searches other than the master's and the planner's
	rounded bool  // the bound can be rounded down to whole minor units
}

func newClearing(p *Pool, o Options) *clearing {
	if o.Acceptance <= 0 || o.Acceptance > 1 {
		o.Acceptance = 1
	}
	m := newMarket(newBook(p), func(members int) int64 {
		return int64(math.Round(unit * math.Pow(o.Acceptance, float64(members))))
	})
	return &clearing{o: o, m: m, w: newMaster(m), p: newPlanner(m), bound: math.MaxInt64, rounded: o.Acceptance == 1}
}

func (c *clearing) steps() int { return c.spent + c.w.steps() + c.p.steps }

// done reports that the plan is proved best or the steps are used up.
func (c *clearing) done() bool { return c.proved() || c.steps() >= c.o.Steps }

func (c *clearing) proved() bool {
	c.bound = min(c.bound, c.w.best)
	if c.rounded {
		return c.bound/unit <= c.p.most/unit
	}
	return c.bound <= c.p.most
}

func (c *clearing) tell() {
	if c.o.Progress != nil {
		c.o.Progress(Progress{c.steps(), melt.Minor(c.p.most / unit), melt.Minor(max(min(c.bound, c.w.best), c.p.most) / unit)})
	}
}

// run works in turns, each longer than the last and all of them the same whatever the steps allowed, so that more steps
// only add to what fewer would do.
func (c *clearing) run() {
	c.begin()
	converged := false
	for turn := firstTurn; !c.done() && !converged; turn += turn / 4 {
		converged = c.w.generate(turn, func() bool { return c.steps() >= c.o.Steps })
		c.learn()
		c.tell()
		if !c.done() {
			c.p.better(c.prices(), turn/4, func() bool { return c.done() })
			c.tell()
		}
	}
	if !c.done() {
		c.cut()
		c.tell()
	}
	if !c.done() {
		c.dive(firstTurn)
		c.tell()
	}
	c.branch()
}

// firstTurn is how many steps the first turn of a search takes.
const firstTurn = 100_000

// begin makes a plan of the trades that gain most, and the bound that needs no prices.
func (c *clearing) begin() {
	offers, bound := c.w.p.run()
	c.w.best = min(c.w.best, bound)
	c.w.stays = append(c.w.stays[:0], c.w.p.price...)
	for _, o := range offers {
		c.w.add(o.column)
		c.p.learn(o.kind, o.arcs)
	}
	c.p.better(c.prices(), 0, nil)
	c.tell()
}

// prices are the best that guide the planner.
func (c *clearing) prices() []int64 { return c.w.stays[:c.m.rows] }

// learn shows the planner the circuits that the program holds.
func (c *clearing) learn() {
	for at := c.p.seen; at < len(c.w.cols); at++ {
		c.p.learn(c.w.cols[at].kind, c.w.cols[at].arcs)
	}
	c.p.seen = len(c.w.cols)
}

// cutsAtOnce is how many cuts are added before the program is solved anew.
const cutsAtOnce = 60

// tailOff is the part of the bound that a round of cuts must take off to be followed by another.
const tailOff = 4000

// cut tightens the program by cuts while that lowers the bound.
func (c *clearing) cut() {
	stop := func() bool { return c.steps() >= c.o.Steps }
	for range 20 {
		before := c.w.best
		cuts := append(c.w.twice(), c.w.broken(cutsAtOnce)...)
		if len(cuts) == 0 {
			return
		}
		c.w.addCuts(cuts)
		if !c.w.generate(1<<60, stop) || c.done() {
			break
		}
		c.tell()
		if before-c.w.best < c.w.best/tailOff {
			break
		}
	}
	c.learn()
}

// branch splits the search until the plan is proved or the steps run out, and betters the plan in between.
func (c *clearing) branch() {
	if c.done() {
		return
	}
	t := newTree(c.w)
	for n := 0; !c.done(); n++ {
		if len(t.open) == 0 {
			return
		}
		if plan := t.step(c.p.most); plan != nil {
			c.p.replace(plan)
		}
		c.w.best = min(c.w.best, max(t.bound(), c.p.most))
		if n%32 == 31 {
			c.learn()
			c.p.better(c.prices(), firstTurn, c.done)
			c.tell()
		}
	}
}

// dive rounds the program to a plan, which is then bettered.
func (c *clearing) dive(turn int) {
	found := c.w.dive(func() bool { return c.steps() >= c.o.Steps })
	c.learn()
	if found != nil {
		c.p.replace(found)
	}
	c.p.better(c.prices(), turn, func() bool { return c.done() })
}

// result writes the plan found with names, in an order that does not depend on how it was found.
func (c *clearing) result() (Plan, Bound) {
	c.proved()
	var plan Plan
	var worth int64
	for i := range c.p.best {
		plan.Trades = append(plan.Trades, c.m.trade(&c.p.best[i]))
		plan.Gain += plan.Trades[i].Gain
		worth += c.p.best[i].worth
	}
	plan.Expected = melt.Minor(worth / unit)
	slices.SortFunc(plan.Trades, compareTrades)
	b := Bound{Gain: melt.Minor(max(c.bound, c.p.most) / unit), Optimal: c.proved(), Steps: c.steps()}
	if !c.rounded && c.bound > c.p.most {
		b.Gain++ // rounded up
	}
	return plan, b
}

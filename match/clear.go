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
	ordered, place := p.inOrder()
	c := newClearing(ordered, o)
	c.run()
	plan, bound := c.result()
	for _, t := range plan.Trades {
		for _, leg := range t.Legs {
			for i := range leg.Items {
				leg.Items[i].Want = place[leg.Items[i].Want]
			}
			slices.SortFunc(leg.Items, compareItems)
		}
	}
	return plan, bound
}

// clearing is the work on one pool.
type clearing struct {
	o       Options
	m       *market
	w       *master
	p       *planner
	bound   int64 // in units
	part    bool  // of a greater market
	rounded bool  // the bound can be rounded down to whole minor units
}

func newClearing(p *Pool, o Options) *clearing {
	if o.Acceptance <= 0 || o.Acceptance > 1 {
		o.Acceptance = 1
	}
	c := clearingOf(newMarket(newBook(p), func(members int) int64 {
		return int64(math.Round(unit * math.Pow(o.Acceptance, float64(members))))
	}), o)
	c.rounded = o.Acceptance == 1
	return c
}

func clearingOf(m *market, o Options) *clearing {
	return &clearing{o: o, m: m, w: newMaster(m), p: newPlanner(m), bound: math.MaxInt64}
}

func (c *clearing) steps() int { return c.w.steps() + c.p.steps }

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

// run goes the same way whatever the steps allowed, so that more steps only add to what fewer would do.
func (c *clearing) run() {
	d := c.begin()
	c.dive(d, 0)
	if len(d.rows) > exactRows {
		c.refine(d)
	} else {
		c.prove()
	}
}

// exactRows is how many rows a program may have for the exact method to be worth its while.
const exactRows = 4000

// few is how many traders have a program that the exact method solves at once, and of which a corner would be most.
const few = 60

// firstCircuits is how many circuits are searched at prices that do not know of longer circuits than swaps yet.
const firstCircuits = 1 << 18

// firstTurn is how many steps the first turn of a search takes.
const firstTurn = 100_000

func (c *clearing) spent() bool { return c.steps() >= c.o.Steps }

// begin makes a plan of the swaps that gain most, and then finds columns and a bound: for swaps first, whose prices say
// much about those of longer circuits.
func (c *clearing) begin() *descent {
	d := newDescent(c.m, c.w.k)
	full := c.w.p.upTo
	c.w.p.upTo = min(full, 2)
	offers, bound := c.w.p.run()
	c.w.best, c.w.stays = c.m.allWants(), make([]int64, c.m.rows)
	c.w.prove(bound)
	c.w.take(d, offers)
	c.learn()
	c.p.better(c.w.p.price[:c.m.rows], 0, nil)
	if full > 2 {
		c.w.approach(d, 500, c.spent)
		c.w.p.upTo = full
		if c.spent() {
			return d
		}
		d.prices(c.w.p.price)
		most := c.w.p.most
		c.w.p.most = firstCircuits
		offers, bound = c.w.p.run()
		c.w.p.most = most
		c.w.prove(bound)
		c.w.take(d, offers)
	}
	c.tell()
	if c.m.n > few {
		c.w.approach(d, 2000, c.spent)
	}
	c.learn()
	c.tell()
	return d
}

// prove makes a plan of a small program certain, as far as the steps allow.
func (c *clearing) prove() {
	converged := false
	for turn := firstTurn; !c.done() && !converged; turn += turn / 4 {
		converged = c.w.generate(turn, c.spent)
		c.learn()
		c.tell()
		c.better(turn / 4)
	}
	if !c.done() {
		c.cut()
		c.tell()
	}
	c.branch()
}

// refine betters the plan of a great program, and tightens its bound by cuts, in turns until the steps run out.
func (c *clearing) refine(d *descent) {
	tight := false
	for turn := 0; !c.done(); turn++ {
		if turn > 0 && turn < 4 || turn%6 == 5 { // dives differ by a part in a hundred: the more at first, the better the best
			c.dive(d, turn)
		}
		c.better(10 * firstTurn)
		c.rework(20 * firstTurn)
		if (turn > 2 || len(d.rows) < 2*exactRows) && !tight { // cuts are dear in a great program
			d, tight = c.tighten(d)
		}
	}
}

// better betters the plan for so many steps.
func (c *clearing) better(steps int) {
	if !c.done() {
		c.p.better(c.prices(), steps, c.done)
		c.p.again()
		c.tell()
	}
}

// rework clears corners of the market anew for so many steps. A corner, or a small market, has none
// of its own.
func (c *clearing) rework(steps int) {
	if c.part || c.m.n <= few {
		return // a corner would be most of it
	}
	for until := c.p.steps + steps; c.p.steps < until && !c.done() && len(c.p.plan) > 0; {
		c.p.rework(c.prices())
	}
	c.tell()
}

// tighten adds the cuts that a descent's solution breaks most, and goes on with the descent. It reports whether there is
// nothing more to be had by that.
func (c *clearing) tighten(d *descent) (*descent, bool) {
	if c.done() {
		return d, false
	}
	solution := d.solution()
	cuts := append(c.w.twice(solution), c.w.broken(solution, len(d.rows)/15)...)
	if len(cuts) == 0 {
		return d, true
	}
	c.w.addCuts(cuts)
	d = c.w.descentOf(d)
	d.run(5 * approachSteps)
	c.w.approach(d, 1000, c.spent)
	c.learn()
	c.tell()
	return d, false
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

// cut tightens the program of the exact method by cuts while that lowers the bound.
func (c *clearing) cut() {
	for range 20 {
		before := c.w.best
		solution := c.w.solution()
		cuts := append(c.w.twice(solution), c.w.broken(solution, cutsAtOnce)...)
		if len(cuts) == 0 {
			return
		}
		c.w.addCuts(cuts)
		if !c.w.generate(1<<60, c.spent) || c.done() {
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
			c.better(firstTurn)
		}
		if n%256 == 255 {
			c.rework(firstTurn)
		}
	}
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

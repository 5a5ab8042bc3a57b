package picture

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"math"
	"strings"
	"time"

	"github.com/fogleman/gg"

	"spareounce/bot/tongue"
	"spareounce/match/melt"
)

// Point is a price at a time.
type Point struct {
	At    time.Time
	Price melt.Price
}

// Chart is a price over a stretch of time: a line through what is known, dashed where nothing is known for longer than a
// fortnight; the highest, the lowest and the last price are marked and said in words. The scale begins near the lowest price,
// not at zero, as its figures show.
type Chart struct {
	Title   string // "Silver"
	Unit    string // "USD a troy ounce"
	From    time.Time
	To      time.Time
	Zone    *time.Location // of the dates; UTC when nil
	Points  []Point        // in order of time
	Sources []string
	Stale   bool // the last price is not today's
	Dark    bool
	In      *tongue.Tongue // what its words are said in; nil is English
}

// longestGap is how long nothing may be known before the line is dashed: a holiday, not a month.
const longestGap = 15 * 24 * time.Hour

// Sizes of the chart, in pixels.
const (
	chartHeight = 1010
	plotTop     = 330.0
	plotBottom  = 800.0
	belowPlot   = 72.0 // room at its bottom for the word below the lowest price
	plotLeft    = 190.0
	plotRight   = width - margin - 16.0
	axisSize    = 34.0
)

// PNG draws the chart, 1080 pixels wide. It needs a point.
func (c Chart) PNG() ([]byte, error) {
	if len(c.Points) == 0 {
		return nil, fmt.Errorf("a chart of no prices")
	}
	var out bytes.Buffer
	if err := gg.NewContextForRGBA(c.draw()).EncodePNG(&out); err != nil {
		return nil, fmt.Errorf("encode the chart: %w", err)
	}
	return out.Bytes(), nil
}

func (c Chart) draw() *image.RGBA {
	canvas := image.NewRGBA(image.Rect(0, 0, width, chartHeight))
	colours := SetCard{Dark: c.Dark}.palette()
	p := pen{Context: gg.NewContextForRGBA(canvas), palette: colours, faces: facesFor(c.In), image: canvas}
	p.SetColor(p.paper)
	p.Clear()
	c.head(p)
	s := c.scale()
	c.axes(p, s)
	c.line(p, s)
	c.marks(p, s)
	c.foot(p)
	return canvas
}

// first, last, low and high are the points that are said in words; of equal ones the latest.
func (c Chart) first() Point { return c.Points[0] }
func (c Chart) last() Point  { return c.Points[len(c.Points)-1] }

func (c Chart) low() Point {
	low := c.first()
	for _, p := range c.Points {
		if p.Price <= low.Price {
			low = p
		}
	}
	return low
}

func (c Chart) high() Point {
	high := c.first()
	for _, p := range c.Points {
		if p.Price >= high.Price {
			high = p
		}
	}
	return high
}

// day writes a date in the chart's zone.
func (c Chart) day(at time.Time) string {
	zone := c.Zone
	if zone == nil {
		zone = time.UTC
	}
	return c.In.Date(at.In(zone))
}

// shown is a price as the chart shows it: to two decimals, to as many more as it takes for three figures, or to none where
// two would say nothing.
func shown(p melt.Price) string {
	decimals := 2
	for unit := melt.PriceUnit; p < unit && decimals < 8; unit /= 10 {
		decimals++
	}
	if p >= 10_000*melt.PriceUnit || p >= 1_000*melt.PriceUnit && p%melt.PriceUnit == 0 {
		decimals = 0
	}
	return p.Rat().FloatString(decimals)
}

func (c Chart) head(p pen) {
	f := p.faces
	p.write(bold, 60, p.ink, f.fit(bold, 60, inner/2, f.drawable(c.Title)), margin, 96, 0)
	p.write(regular, 40, p.faint, f.fit(regular, 40, inner/2, f.drawable(c.Unit)), width-margin, 96, 1)
	last := c.last()
	price := shown(last.Price)
	p.write(bold, summarySize, p.disc, price, margin, 206, 0)
	x := margin + f.width(bold, summarySize, price) + 32
	p.write(bold, 40, p.ink, c.change(), x, 166, 0)
	said := lastPrice
	if c.Stale {
		said = lastPriceStale
	}
	when := c.In.Say(said, "day", c.day(last.At))
	p.write(regular, 36, p.faint, f.fit(regular, 36, width-margin-x, when), x, 208, 0)
	p.SetLineCapRound()
	p.line(p.faint, 4, 246, 1)
}

// change says how the last price stands to the first.
func (c Chart) change() string {
	first, last := c.first().Price.Rat(), c.last().Price.Rat()
	off := last.Sub(last, first)
	percent := off.Quo(off.Mul(off, melt.Price(100*melt.PriceUnit).Rat()), first).FloatString(1)
	since := c.day(c.first().At)
	switch {
	case percent == "0.0" || percent == "-0.0":
		return c.In.Say(unchangedSince, "day", since)
	case percent[0] == '-':
		return c.In.Say(lowerSince, "percent", percent[1:], "day", since)
	}
	return c.In.Say(higherSince, "percent", percent, "day", since)
}

// scale maps times and prices to the plot.
type scale struct {
	from, to  time.Time
	low, high melt.Price // at the bottom and the top; whole steps
	step      melt.Price
}

// scale takes in every price with a step of 1, 2 or 5 times a power of ten, in at most six lines.
func (c Chart) scale() scale {
	low, high := c.low().Price, c.high().Price
	s := scale{from: c.From, to: c.To, step: 1}
	for i := 0; ; i++ {
		s.step = melt.Price([]int64{1, 2, 5}[i%3])
		for range i / 3 {
			s.step *= 10
		}
		s.low = low / s.step * s.step
		s.high = (high + s.step - 1) / s.step * s.step
		if s.low == s.high {
			s.low, s.high = max(s.low-s.step, 0), s.high+s.step
		}
		// A line that hardly moves is not blown up to fill the plot: a step is at least a percent of the price.
		if (s.high-s.low)/s.step <= 5 && s.step*100 >= high {
			return s
		}
	}
}

func (s scale) x(at time.Time) float64 {
	return plotLeft + (plotRight-plotLeft)*float64(at.Sub(s.from))/float64(max(s.to.Sub(s.from), 1))
}

func (s scale) y(p melt.Price) float64 {
	return plotBottom - belowPlot - (plotBottom-belowPlot-plotTop)*float64(p-s.low)/float64(s.high-s.low)
}

// axes draws the level lines with their figures, and the months.
func (c Chart) axes(p pen, s scale) {
	p.SetLineWidth(2)
	for v := s.low; v <= s.high; v += s.step {
		y := math.Round(s.y(v))
		p.SetColor(fade(p.faint, p.paper))
		p.DrawLine(plotLeft, y, plotRight, y)
		p.Stroke()
		p.write(regular, axisSize, p.faint, figure(v, s.step), plotLeft-18, y+axisSize*0.34, 1)
	}
	zone := c.Zone
	if zone == nil {
		zone = time.UTC
	}
	year, month, _ := s.from.In(zone).Date()
	p.SetColor(p.faint)
	p.DrawLine(plotLeft, plotBottom, plotRight, plotBottom)
	p.Stroke()
	for {
		month++
		at := time.Date(year, month, 1, 0, 0, 0, 0, zone)
		if at.After(s.to) {
			return
		}
		x := math.Round(s.x(at))
		p.SetColor(p.faint)
		p.DrawLine(x, plotBottom, x, plotBottom+12)
		p.Stroke()
		word := c.In.Month(at.Month())
		if at.Month() == time.January {
			word = c.In.Say(monthOfYear, "month", word, "year", at.Format("06"))
		}
		half := p.faces.width(regular, axisSize, word) / 2
		if at.Month()%2 == 1 && x-half >= margin && x+half <= width-margin/2 { // every other month, January among them
			p.write(regular, axisSize, p.faint, word, x, plotBottom+52, 0.5)
		}
	}
}

// figure writes a price on the scale with as many decimals as its step has.
func figure(v, step melt.Price) string {
	decimals := 0
	for unit := melt.PriceUnit; step%unit != 0; unit /= 10 {
		decimals++
	}
	return v.Rat().FloatString(decimals)
}

// fade is a colour most of the way to another.
func fade(c, to color.RGBA) color.RGBA {
	mix := func(a, b uint8) uint8 { return uint8((int(a) + 2*int(b)) / 3) }
	return color.RGBA{R: mix(c.R, to.R), G: mix(c.G, to.G), B: mix(c.B, to.B), A: 0xff}
}

// line draws the price.
func (c Chart) line(p pen, s scale) {
	p.SetLineCapRound()
	p.SetLineJoinRound()
	p.SetColor(p.disc)
	for i := 1; i < len(c.Points); i++ {
		a, b := c.Points[i-1], c.Points[i]
		p.SetLineWidth(7)
		p.SetDash()
		if b.At.Sub(a.At) > longestGap {
			p.SetLineWidth(5)
			p.SetDash(4, 14)
		}
		p.DrawLine(s.x(a.At), s.y(a.Price), s.x(b.At), s.y(b.Price))
		p.Stroke()
	}
	p.SetDash()
	for i, at := range c.Points { // a price that stands alone is no line, but it is known
		alone := i == 0 || at.At.Sub(c.Points[i-1].At) > longestGap
		if alone = alone && (i == len(c.Points)-1 || c.Points[i+1].At.Sub(at.At) > longestGap); alone {
			p.DrawCircle(s.x(at.At), s.y(at.Price), 9)
			p.Fill()
		}
	}
}

// marks sets off the highest price with a triangle above, the lowest with one below, the last with a ring.
func (c Chart) marks(p pen, s scale) {
	high, low, last := c.high(), c.low(), c.last()
	if high.Price != low.Price {
		c.mark(p, s, high, -1, highest)
		c.mark(p, s, low, 1, lowest)
	}
	x, y := s.x(last.At), s.y(last.Price)
	p.DrawCircle(x, y, 13)
	p.SetColor(p.disc)
	p.Fill()
	p.DrawCircle(x, y, 6)
	p.SetColor(p.paper)
	p.Fill()
}

// mark draws a triangle beside a point, up for side -1, down for 1, and its price with the word.
func (c Chart) mark(p pen, s scale, at Point, side float64, said phrase) {
	x, y := s.x(at.At), s.y(at.Price)+side*20
	p.MoveTo(x, y)
	p.LineTo(x-12, y+side*20)
	p.LineTo(x+12, y+side*20)
	p.ClosePath()
	p.SetColor(p.accent)
	p.Fill()
	text := c.In.Say(said, "price", shown(at.Price))
	half := p.faces.width(bold, axisSize, text) / 2
	x = min(max(x, plotLeft+half), plotRight-half)
	baseline := y + side*20 + side*10
	if side > 0 {
		baseline += axisSize * 0.8
	}
	p.ground(x, baseline, half)
	p.write(bold, axisSize, p.ink, text, x, baseline, 0.5)
}

// ground clears the ground behind words of axisSize, so that no line runs through them.
func (p pen) ground(x, baseline, half float64) {
	p.SetColor(p.paper)
	p.DrawRectangle(x-half-6, baseline-axisSize*0.8, 2*half+12, axisSize)
	p.Fill()
}

// foot says where the prices are from and what is dashed.
func (c Chart) foot(p pen) {
	f := p.faces
	lines, _ := f.wrap(regular, axisSize, inner, 2, f.drawable(c.In.Say(pricesFrom, "sources", strings.Join(c.Sources, ", "))))
	y := plotBottom + 112
	if c.gaps() > 0 {
		p.write(regular, axisSize, p.faint, f.fit(regular, axisSize, inner, c.In.Say(dashed)), margin, y, 0)
		y += 44
		lines = lines[:min(len(lines), 1)]
	}
	for _, line := range lines {
		p.write(regular, axisSize, p.faint, line, margin, y, 0)
		y += 44
	}
}

// gaps counts the stretches in which no price is known.
func (c Chart) gaps() (n int) {
	for i := 1; i < len(c.Points); i++ {
		if c.Points[i].At.Sub(c.Points[i-1].At) > longestGap {
			n++
		}
	}
	return n
}

// Alt says in words what the chart shows, in at most 1000 characters.
func (c Chart) Alt() string {
	if len(c.Points) == 0 {
		return c.In.Say(noPrices, "title", clip(c.Title))
	}
	first, last, low, high := c.first(), c.last(), c.low(), c.high()
	said := []string{
		c.In.Say(chartHead, "title", clip(c.Title), "unit", clip(c.Unit), "from", c.day(c.From), "to", c.day(c.To)),
		c.In.Say(firstOn, "price", shown(first.Price), "day", c.day(first.At)),
	}
	if low.Price != high.Price {
		said = append(said, c.In.Say(lowestHighest, "low", shown(low.Price), "lowday", c.day(low.At), "high", shown(high.Price), "highday", c.day(high.At)))
	}
	end := lastOn
	if c.Stale {
		end = lastOnStale
	}
	said = append(said, c.In.Say(end, "price", shown(last.Price), "day", c.day(last.At), "change", c.change()),
		c.In.Say(priceCount, "n", len(c.Points)))
	switch n := c.gaps(); {
	case n == 1:
		said = append(said, c.In.Say(oneGap))
	case n > 1:
		said = append(said, c.In.Say(manyGaps, "n", n))
	}
	if len(c.Sources) > 0 {
		said = append(said, c.In.Say(fromSources, "sources", clip(strings.Join(c.Sources, ", "))))
	}
	return strings.Join(said, " ")
}

package discord

import (
	"runtime/pprof"
	"slices"
	"strings"
	"time"

	"spareounce/bot/chattest"
)

// settledAfter is how long after it was asked an interaction is judged.
const settledAfter = 25 * time.Second

// barely is how long before it is too late an interaction must reach us to be answered for sure: those that a session kept
// while we were away come all at once.
const barely = 700 * time.Millisecond

// asked is an interaction and when it was begun.
type asked struct {
	*chattest.Interaction
	what string
	at   time.Time
	aged bool // was made too old to be answered
}

// outcome counts what became of interactions.
type outcome struct {
	asked, heard, missed, aged, late int
	acknowledged, answered           []time.Duration // by members' clocks
	unanswered, unheard              []string        // the stories of those that should have been
}

func (l *life) asks(what string, i *chattest.Interaction) *asked {
	one := &asked{Interaction: i, what: what, at: time.Now()}
	l.pending = append(l.pending, one)
	return one
}

// judge judges what is old enough, and forgets it.
func (l *life) judge(after time.Duration) {
	n := 0
	for _, a := range l.pending {
		if time.Since(a.at) < after {
			break
		}
		n++
		l.judgeOne(a)
	}
	l.pending = slices.Delete(l.pending, 0, n)
}

func (l *life) judgeOne(a *asked) {
	l.mu.Lock()
	when := l.heard[a.ID]
	delete(l.heard, a.ID)
	l.mu.Unlock()
	heard, o := !when.IsZero(), &l.outcome
	o.asked++
	first, whole := a.Took()
	if first > 0 {
		o.acknowledged = append(o.acknowledged, first)
	}
	if whole > 0 {
		o.answered = append(o.answered, whole)
	}
	switch {
	case a.aged:
		o.aged++
	case heard && whole == 0 && when.Sub(a.at) > l.patience-barely:
		o.late++
	case heard && whole == 0:
		o.unanswered = append(o.unanswered, a.what+": "+a.Story())
	case heard:
		l.troubles.heardAgain(a.at)
	case l.troubles.away(a.at):
		o.missed++
	default:
		o.unheard = append(o.unheard, a.what+": "+a.Story())
	}
	if heard {
		o.heard++
	}
}

// report says what became of it, and fails where a promise was not kept.
func (l *life) report(spoken, settling time.Duration) {
	t, o := l.t, &l.outcome
	some := func(list []string) string { return strings.Join(list[:min(len(list), 5)], "\n") }
	if n := len(o.unanswered); n > 0 {
		t.Errorf("%d of %d that were heard were not answered: %s", n, o.heard, some(o.unanswered))
	}
	if n := len(o.unheard); n > 0 {
		t.Errorf("%d of %d were not heard, though we were connected: %s", n, o.asked, some(o.unheard))
	}
	if wrong := l.wrong(); len(wrong) > 0 {
		t.Errorf("%d things were told twice or not at all: %s", len(wrong), some(wrong))
	}
	if over := l.Limited(); len(over) > 0 {
		t.Errorf("requests were beyond a limit: %v", over)
	}
	l.troubles.report()
	told := l.told()
	sessions, resumed := l.Identified()
	slices.Sort(o.acknowledged)
	slices.Sort(o.answered)
	t.Logf("%d asked, %d heard, %d missed while we were away, %d made too old, %d came too late, %d answered in %v (%.1f a second), %v of the bot's life; at rest %v later", o.asked, o.heard, o.missed,
		o.aged, o.late, len(o.answered), spoken.Round(time.Second), float64(len(o.answered))/spoken.Seconds(), times(spoken, l.speed).Round(time.Second), settling.Round(100*time.Millisecond))
	t.Logf("to acknowledgement: p50 %v, p99 %v, worst %v", at(o.acknowledged, .5), at(o.acknowledged, .99), at(o.acknowledged, 1))
	t.Logf("to answer: p50 %v, p99 %v, worst %v", at(o.answered, .5), at(o.answered, .99), at(o.answered, 1))
	t.Logf("%d things told unasked, %d messages, %d edits, %d sessions begun, %d taken up again, %d invalid requests", told, l.kinds[chattest.Said], l.kinds[chattest.Edited], sessions, resumed, l.Invalid())
	if sessions < 2 || o.heard == 0 || spoken >= time.Minute && told == 0 {
		t.Error("nothing happened")
	}
	l.forget()
	l.outcome, l.pending = outcome{}, nil
	after := l.footprint()
	t.Logf("heap, stand-in and test and all: %d kB before, %d kB after a quarter, %d kB after all; goroutines: %d, %d, %d; limits remembered: %d, %d, %d",
		l.before.heap>>10, l.quarter.heap>>10, after.heap>>10, l.before.goroutines, l.quarter.goroutines, after.goroutines, l.before.limits, l.quarter.limits, after.limits)
	if grown := int64(after.heap) - int64(max(l.quarter.heap, l.before.heap)); grown > 16<<20 { // by so much what the stand-in and the test hold swings; of the bot's own a heap profile shows no growth
		t.Errorf("the heap grew by %d kB", grown>>10)
	}
	const queues = 20 // the queue's housekeeping begins a few seconds after the rest
	if after.goroutines > l.before.goroutines+queues {
		var all strings.Builder
		_ = pprof.Lookup("goroutine").WriteTo(&all, 1) // into memory
		t.Errorf("%d goroutines were left, %d were there before: %s", after.goroutines, l.before.goroutines, all.String())
	}
	if after.limits > 2*l.quarter.limits+500 {
		t.Errorf("%d limits are remembered, after a quarter it was %d", after.limits, l.quarter.limits)
	}
}

// at is the value below which so large a part of sorted values lies.
func at(sorted []time.Duration, part float64) time.Duration {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[int(part*float64(len(sorted)-1))].Round(10 * time.Microsecond)
}

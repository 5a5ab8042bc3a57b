package discord

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"spareounce/bot/chattest"
	"spareounce/bot/talk"
	"spareounce/store"
)

// strictly makes a service that enforces every limit by its real clock. Only that members wait longer for an answer is
// kinder than Discord: the machine may do much else.
func strictly() []chattest.Option {
	return []chattest.Option{
		chattest.Strict(), chattest.WithClock(time.Now), chattest.Acknowledge(4 * answerWithin), chattest.Keep(100_000), chattest.Patience(2 * time.Minute),
	}
}

// TestADayOfManyGroups plays all transcripts in which no time passes at once, each in a server of its own, with one bot in
// a service that enforces every limit; in the evening all have their weekly post. No request was beyond a limit, each
// group read word for word what its transcript says, and nothing was said twice or lost.
func TestADayOfManyGroups(t *testing.T) {
	if testing.Short() {
		t.Skip("a day of many groups takes half a minute: not with -short")
	}
	b := newBooks()
	tb := prepare(t, 1, append(strictly(), chattest.Watch(b.see))...)
	tb.quiet, tb.beside = true, b.beside
	tb.open().connected()
	day := &day{table: tb}
	day.gather()
	began := time.Now()
	day.talk()
	for _, g := range day.groups {
		if difference := talk.Compare(g.script, g.out); difference != "" {
			t.Errorf("%s: %s", g.name, difference)
		}
	}
	day.evening()
	t.Logf("%d groups, %d things said unasked, %d messages, %d edits, %d requests in %v", len(day.groups), b.told(), b.kinds[chattest.Said],
		b.kinds[chattest.Edited], len(tb.Requests()), time.Since(began).Round(time.Second))
	if over := tb.Limited(); len(over) > 0 {
		t.Errorf("requests were beyond a limit: %v", over)
	}
	for _, wrong := range b.wrong() {
		t.Error(wrong)
	}
	if b.kinds[chattest.Edited] == 0 || b.told() < 200 {
		t.Errorf("not much of a day: %d edits, %d told", b.kinds[chattest.Edited], b.told())
	}
}

// day is a day of many groups.
type day struct {
	*table
	groups []*dayGroup
}

// dayGroup is one of them.
type dayGroup struct {
	*stagePlayer
	name   string
	script []talk.Line
	next   int // line
	answer []string
}

// gather makes a server for each transcript.
func (d *day) gather() {
	t := d.t
	// Where two plans are as good, members decide by the order of their names in match, which are numbers as text: with as
	// many digits each, that is the order in which they came, as when each group is alone.
	others, err := d.store.Group(t.Context(), "others", "others")
	for n := 0; err == nil && n < 100; n++ {
		_, err = d.store.Join(t.Context(), others.ID, "other "+strconv.Itoa(n), "Other", false, "")
	}
	if err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob("../../testdata/talk/*.talk")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		script, err := talk.Parse(strings.NewReader(string(text)))
		if err != nil {
			t.Fatal(err)
		}
		if !timeless(script) {
			continue
		}
		g := &table{Server: d.Server, t: t, url: d.url, store: d.store, bot: d.bot, chat: d.chat, log: d.log, guild: d.Guild(filepath.Base(file))}
		g.channel = g.guild.Channel("general")
		group := &dayGroup{name: filepath.Base(file), script: script, stagePlayer: &stagePlayer{table: g, people: map[string]*chattest.Member{}, feeds: map[string]string{}, crowd: true}}
		in, err := d.store.Group(t.Context(), g.guild.ID, g.guild.Name)
		if err != nil {
			t.Fatal(err)
		}
		for _, one := range shipped(t) {
			if err := d.store.SaveSeries(t.Context(), in.ID, one); err != nil {
				t.Fatal(err)
			}
		}
		group.prepare()
		d.groups = append(d.groups, group)
	}
	if len(d.groups) < 40 {
		t.Fatalf("only %d groups", len(d.groups))
	}
}

// timeless reports whether no time passes in a transcript, and no price feed speaks: the groups share a clock.
func timeless(script []talk.Line) bool {
	for _, l := range script {
		if _, _, _, feeds := l.Feed(); feeds || len(l.Steps()) > 0 {
			return false
		}
	}
	return true
}

// talk has every group say its next line at the same time, until none has one left.
func (d *day) talk() {
	for more := true; more && !d.t.Failed(); {
		more = false
		var all sync.WaitGroup
		for _, g := range d.groups {
			if g.goOn() {
				more = true
				all.Go(g.speak)
			}
		}
		all.Wait()
		if err := talk.Settle(d.t.Context(), d.store); err != nil {
			d.t.Fatal(err)
		}
		for _, g := range d.groups {
			g.rest()
			g.write(g.answer)
			g.answer = nil
		}
	}
}

// goOn writes down lines that are nobody's, and reports whether a member's follows.
func (g *dayGroup) goOn() bool {
	for ; g.next < len(g.script); g.next++ {
		l := g.script[g.next]
		if l.Ours() {
			continue
		}
		if who, ok := l.Keeper(); ok {
			g.guild.Role("keeper of "+who, chattest.ManageGuild).Give(g.person(who))
		} else if _, _, _, ok := l.Says(); ok {
			return true
		} else if _, _, ok := l.Presses(); ok {
			return true
		}
		g.out = append(g.out, l.Text)
	}
	return false
}

// speak has a member say or press the next line.
func (g *dayGroup) speak() {
	l := g.script[g.next]
	g.next++
	g.out = append(g.out, l.Text)
	if who, words, alone, ok := l.Says(); ok {
		g.answer = g.says(who, words, alone, g.next < len(g.script) && g.script[g.next].Ours())
	}
	if who, label, ok := l.Presses(); ok {
		g.answer = g.presses(who, label)
	}
}

// evening has every group's keeper choose Monday evening for the weekly post, and lets the evening come: one post each.
func (d *day) evening() {
	t := d.t
	for _, g := range d.groups {
		in, err := d.store.Group(t.Context(), g.guild.ID, g.guild.Name)
		if err != nil {
			t.Fatal(err)
		}
		at := store.Weekly{Weekday: 1, At: store.Clock(23 * 60)}
		if _, err := d.store.SetWeekly(t.Context(), in, at); err != nil {
			t.Fatal(err)
		}
	}
	(&stagePlayer{table: d.table}).pass(24 * time.Hour)
	all := d.Saw()
	for _, g := range d.groups {
		if n := timesSaid(all, g.posts, "week 2026-W10"); n != 1 {
			t.Errorf("%s had its weekly post %d times", g.name, n)
		}
	}
}

// TestTheRush has two dozen members of one server do everything at once, while the service has said that nobody may send
// anything for a while: every one is answered meanwhile, for an answer waits for nothing; and afterwards everybody is told
// what there is to tell, once, within every limit.
func TestTheRush(t *testing.T) {
	b := newBooks()
	tb := prepare(t, 4, append(strictly(), chattest.Watch(b.see))...)
	tb.quiet, tb.beside = true, b.beside
	tb.timing = func(tm *timing) { tm.answer = time.Millisecond } // most ask for patience first, and edit and follow then
	tb.open().connected()
	var members []*chattest.Member
	for n := range 24 {
		m := tb.guild.Member("member" + strconv.Itoa(n))
		if err := tb.store.SaveAccount(t.Context(), m.ID, store.Account{Reach: store.ReachMessage}); err != nil {
			t.Fatal(err)
		}
		members = append(members, m)
	}
	const still = 12 * time.Second
	hold := tb.Fail("POST /channels/*/messages", 1, chattest.Limited("global", still))
	members[0].Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 82"}).Answer()
	members[12].Slash(tb.channel, "want", chattest.Values{"pieces": "lantern 82"}).Answer()
	for end := time.Now().Add(time.Minute); hold.Hits() == 0; time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("nobody is told")
		}
	}
	from := time.Now()
	var asked []*chattest.Interaction
	for n, m := range members {
		pieces := chattest.Values{"pieces": "lantern " + strconv.Itoa(82+n%8)}
		asked = append(asked, m.Slash(tb.channel, []string{"spare", "want"}[n/12], pieces), m.Slash(tb.channel, "gaps", nil), m.Slash(m.DM(), "trades", nil))
	}
	for _, i := range asked {
		if !i.Answered() {
			t.Errorf("not answered: %s", i.Story())
		}
		if _, whole := i.Took(); whole > 2*time.Second {
			t.Log(i.Story(), whole)
		}
	}
	if took := time.Since(from); took >= still {
		t.Errorf("%d answers took %v: they waited for the others, or the machine is too busy to tell", len(asked), took)
	}
	(&stagePlayer{table: tb}).settle()
	for _, r := range tb.Requests() {
		answers := strings.HasPrefix(r.Path, "/interactions/") || strings.HasPrefix(r.Path, "/webhooks/")
		if !answers && r.At.After(from) && r.At.Before(from.Add(still-500*time.Millisecond)) {
			t.Errorf("%s %s was sent %v after everything had to be still", r.Method, r.Path, r.At.Sub(from))
		}
	}
	if over := tb.Limited(); len(over) > 0 {
		t.Errorf("requests were beyond a limit: %v", over)
	}
	for _, wrong := range b.wrong() {
		t.Error(wrong)
	}
	if b.told() < 20 {
		t.Errorf("not much of a rush: %d told", b.told())
	}
}

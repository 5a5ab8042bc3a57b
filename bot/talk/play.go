package talk

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"spareounce/bot"
	"spareounce/bot/spot"
	"spareounce/match/series"
	"spareounce/store"
)

// Begin is when every transcript begins: a Monday morning.
var Begin = time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)

// group is the chat's id of the group that a transcript plays in.
const group = "talk"

// Player plays transcripts against one group in one database.
type Player struct {
	store   *store.Store
	bot     *bot.Bot
	keepers map[string]bool

	turn sync.Mutex // held while a line is answered: the answer comes before what follows from it

	mu      sync.Mutex
	now     time.Time
	out     []string
	buttons map[string][]bot.Button // by member, what they may press, newest last
	feeds   map[string]answer       // by address, what a price feed says
	said    map[string]bool         // keys of what was said

	language string
	pressed  []string // what the buttons that were pressed said, in order
	presses  []string // the same from an earlier play, to press instead of by the label
}

// answer is what a price feed says.
type answer struct {
	status int
	body   string
}

// NewPlayer opens a migrated database, which should be empty, and imports series into the group. Work must run beside
// it.
func NewPlayer(ctx context.Context, url string, log *slog.Logger, all []series.Series) (*Player, error) {
	p := &Player{keepers: map[string]bool{}, now: Begin, buttons: map[string][]bot.Button{}, feeds: map[string]answer{}, said: map[string]bool{}}
	var err error
	if p.store, err = store.Open(ctx, url, p.clock, log); err != nil {
		return nil, err
	}
	p.bot = bot.New(p.store, p, p.clock, log)
	p.bot.Ask(spot.NewFetcher(func(string) string { return "" }, nil).Through(spot.Answering(p.answer)))
	g, err := p.store.Group(ctx, group, group)
	if err != nil {
		return nil, err
	}
	for _, one := range all {
		if err := p.store.SaveSeries(ctx, g.ID, one); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// Translate has the whole talk in another language. The members' lines stay as they are, for everybody may type English; what
// buttons are called does not, so they press what was pressed in a play of the same script in English.
func (p *Player) Translate(ctx context.Context, language string, english *Player) error {
	p.language, p.presses = language, english.pressed
	g, err := p.store.Group(ctx, group, group)
	if err != nil {
		return err
	}
	g.Language = language
	return p.store.SaveGroup(ctx, g)
}

// Close lets go of the database.
func (p *Player) Close() { p.store.Close() }

// answer is what a price feed says to whoever asks it: nothing is there until the script has said so.
func (p *Player) answer(url string) (status int, body string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if a, ok := p.feeds[url]; ok {
		return a.status, a.body
	}
	return 404, ""
}

func (p *Player) clock() time.Time {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now
}

// Play plays a script and returns the whole talk, a line each.
func (p *Player) Play(ctx context.Context, script []Line) ([]string, error) {
	ctx, stop := context.WithCancel(ctx)
	worked := make(chan error, 1)
	go func() { worked <- p.store.Work(ctx, p.bot, 1, 5*time.Second) }()
	err := p.play(ctx, script)
	stop()
	if w := <-worked; err == nil {
		err = w
	}
	return p.out, err
}

func (p *Player) play(ctx context.Context, script []Line) error {
	for _, l := range script {
		if l.deed == ours {
			continue
		}
		p.write(l.Text)
		if err := p.do(ctx, l); err != nil {
			return fmt.Errorf("line %d: %w", l.Number, err)
		}
		if l.deed != nothing && l.deed != keeps && l.deed != waits && l.deed != feeds {
			if err := p.settle(ctx); err != nil {
				return fmt.Errorf("line %d: %w", l.Number, err)
			}
		}
	}
	return nil
}

func (p *Player) do(ctx context.Context, l Line) error {
	switch l.deed {
	case keeps:
		p.keepers[l.who] = true
	case feeds:
		p.mu.Lock()
		p.feeds[l.who] = answer{l.status, l.words}
		p.mu.Unlock()
	case waits:
		return p.wait(ctx, l)
	case says, whispers:
		p.hear(ctx, l.who, l.words, l.deed == whispers)
	case presses:
		says, ok := p.pressing(l.who, l.words)
		if !ok {
			return fmt.Errorf("%s has no button %q", l.who, l.words)
		}
		p.pressed = append(p.pressed, says)
		p.hear(ctx, l.who, says, true)
	}
	return nil
}

// often is how often the clock is served while time passes: it has to be much oftener than anything that is due in days.
const often = 6 * time.Hour

// Steps is how time passes: with the clock served now and then, or all at once, as for a bot that does not run. Empty for a
// line that is not about time.
func (l Line) Steps() []time.Duration {
	if l.deed != waits {
		return nil
	}
	if l.away {
		return []time.Duration{l.length}
	}
	var steps []time.Duration
	for left := l.length; left > 0; left -= often {
		steps = append(steps, min(left, often))
	}
	return steps
}

// wait lets time pass.
func (p *Player) wait(ctx context.Context, l Line) error {
	for _, step := range l.Steps() {
		p.mu.Lock()
		p.now = p.now.Add(step)
		p.mu.Unlock()
		if err := p.store.Tick(ctx); err != nil {
			return err
		}
		if err := p.settle(ctx); err != nil {
			return err
		}
	}
	return nil
}

// hear has a member say a line, and writes the answer.
func (p *Player) hear(ctx context.Context, who, text string, private bool) {
	p.turn.Lock()
	defer p.turn.Unlock()
	from := speaker(who, p.keepers)
	from.Language = p.language
	reply := p.bot.Hear(ctx, bot.Heard{Group: group, Text: text, Private: private, From: from})
	if !reply.Empty() {
		p.say(who, reply)
	}
}

// pressing finds the line of the newest button of a member with a label.
func (p *Player) pressing(who, label string) (string, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if n := len(p.pressed); n < len(p.presses) {
		return p.presses[n], true
	}
	all := p.buttons[who]
	for i := len(all) - 1; i >= 0; i-- {
		if all[i].Label == label {
			return all[i].Says, true
		}
	}
	return "", false
}

// Tell writes what a member is told. It is the chat's.
func (p *Player) Tell(_ context.Context, _, account string, r bot.Reply) error {
	p.turn.Lock()
	defer p.turn.Unlock()
	r.Private = true
	p.say(account, r)
	return nil
}

// Post writes what the group is told. It is the chat's.
func (p *Player) Post(_ context.Context, _ string, r bot.Reply) error {
	p.turn.Lock()
	defer p.turn.Unlock()
	if r.Key != "" && p.said[r.Key] {
		return nil
	}
	p.said[r.Key] = true
	r.Private = false
	p.say("", r)
	return nil
}

// say writes one message: its text, its pictures in words, and its buttons.
func (p *Player) say(to string, r bot.Reply) {
	head := "bot> "
	if r.Private {
		head = "bot to " + to + "> "
	}
	lines := strings.Split(r.Text, "\n")
	for _, picture := range r.Pictures {
		lines = append(lines, "(picture: "+strings.ReplaceAll(picture.Alt, "\n", " ")+")")
	}
	for _, f := range r.Files {
		lines = append(lines, "(file "+f.Name+": "+f.About+")")
	}
	var labels []string
	for _, b := range r.Buttons {
		labels = append(labels, "["+b.Label+"]")
	}
	if len(labels) > 0 {
		lines = append(lines, strings.Join(labels, " "))
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.buttons[to] = append(p.buttons[to], r.Buttons...)
	p.out = append(p.out, head+strings.Join(lines, "\n  "))
}

func (p *Player) write(line string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.out = append(p.out, line)
}

// settle waits until everything that follows from the last line has happened.
func (p *Player) settle(ctx context.Context) error { return Settle(ctx, p.store) }

// Settle waits until everything that follows from a line has happened.
func Settle(ctx context.Context, st *store.Store) error {
	deadline := time.Now().Add(30 * time.Second)
	for {
		idle, err := st.Idle(ctx)
		if err != nil || idle {
			return err
		}
		if time.Now().After(deadline) {
			return fmt.Errorf("the queue does not come to rest")
		}
		select {
		case <-ctx.Done():
			return context.Cause(ctx)
		case <-time.After(2 * time.Millisecond):
		}
	}
}

// Compare holds what was said against the script, line by line; "" when they agree, else the first difference.
func Compare(script []Line, out []string) string {
	var want []string
	for _, l := range script {
		want = append(want, l.Text)
	}
	got := strings.Split(strings.Join(out, "\n"), "\n")
	for i := 0; i < max(len(want), len(got)); i++ {
		w, g := at(want, i), at(got, i)
		if w != g {
			return fmt.Sprintf("line %d\n- %s\n+ %s", i+1, w, g)
		}
	}
	return ""
}

func at(lines []string, i int) string {
	if i < len(lines) {
		return lines[i]
	}
	return "(nothing)"
}

// Recite has a bot hear the members' lines of a script in a group, as a beginning for people to go on from.
func Recite(ctx context.Context, b *bot.Bot, group string, script []Line) {
	keepers := map[string]bool{}
	for _, l := range script {
		switch l.deed {
		case keeps:
			keepers[l.who] = true
		case says, whispers:
			b.Hear(ctx, bot.Heard{Group: group, From: speaker(l.who, keepers), Text: l.words, Private: l.deed == whispers})
		}
	}
}

func speaker(who string, keepers map[string]bool) bot.Speaker {
	_, size := utf8.DecodeRuneInString(who)
	return bot.Speaker{Account: who, Name: strings.ToUpper(who[:size]) + who[size:], Keeper: keepers[who]}
}

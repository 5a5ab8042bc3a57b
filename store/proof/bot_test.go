package proof

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"sync"
	"testing"
	"time"

	"spareounce/bot"
	"spareounce/store"
)

// botVariable makes the test binary play the bot instead of testing: it holds the address of the database.
const botVariable = "SPAREOUNCE_PROOF_BOT"

func TestMain(m *testing.M) {
	if address := os.Getenv(botVariable); address != "" {
		if err := playBot(address); err != nil {
			fmt.Fprintln(os.Stderr, "bot:", err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// request is a deed on its way to the bot, spoken what comes back: an answer to a request, or something told.
type (
	request struct {
		ID     int
		Member store.Member
		Deed   deed
	}
	spoken struct {
		ID        int // of the request; 0 for what is told
		Answer    answer
		Err       string
		Uncertain bool

		Account, Key, Text string
	}
)

// playBot is the bot as a program of its own: it does what it reads, and works on the queue meanwhile.
func playBot(address string) error {
	ctx := context.Background()
	s, err := store.Open(ctx, address, still, quiet())
	if err != nil {
		return err
	}
	out := &wire{}
	go func() { _ = s.Work(ctx, bot.New(s, out, still, quiet()), 4, time.Second) }()
	lines := bufio.NewScanner(os.Stdin)
	for lines.Scan() {
		var r request
		if err := json.Unmarshal(lines.Bytes(), &r); err != nil {
			return err
		}
		go func() {
			said := spoken{ID: r.ID}
			var err error
			if said.Answer, err = do(ctx, s, r.Member, r.Deed); err != nil {
				_, said.Uncertain = errors.AsType[*store.UncertainError](err)
				said.Err = err.Error()
			}
			_ = out.say(said)
		}()
	}
	return lines.Err()
}

// wire is the bot's chat: a line for each message, whole or not at all.
type wire struct{ mu sync.Mutex }

func (w *wire) say(s spoken) error {
	line, err := json.Marshal(s)
	if err != nil {
		return err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	_, err = os.Stdout.Write(append(line, '\n'))
	return err
}

// Tell delivers a message. One time in ten it says that it could not, though it did: as a chat does whose answer is lost.
func (w *wire) Tell(_ context.Context, _, account string, r bot.Reply) error {
	err := w.say(spoken{Account: account, Key: r.Key, Text: r.Text})
	if rand.IntN(10) == 0 {
		return errors.New("the chat's answer was lost")
	}
	return err
}

// Post delivers a message to all.
func (w *wire) Post(_ context.Context, _ string, r bot.Reply) error {
	return w.say(spoken{Key: r.Key, Text: r.Text})
}

// process is a bot that runs.
type process struct {
	cmd   *exec.Cmd
	stdin io.WriteCloser
	dead  chan struct{} // closed when all it ever said has been read

	mu      sync.Mutex
	last    int
	waiting map[int]chan spoken
}

// startBot starts a bot; what it tells goes to the chat.
func startBot(t *testing.T, address string, c *chat) *process {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	p := &process{cmd: exec.Command(self), dead: make(chan struct{}), waiting: map[int]chan spoken{}}
	p.cmd.Env = append(os.Environ(), botVariable+"="+address)
	p.cmd.Stderr = os.Stderr
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if p.stdin, err = p.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		defer close(p.dead)
		p.read(out, c)
		_ = p.cmd.Wait()
	}()
	return p
}

// read hands on what the bot says until its end. A line that was cut off by its death was never said.
func (p *process) read(out io.Reader, c *chat) {
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		var s spoken
		if json.Unmarshal(lines.Bytes(), &s) != nil {
			return
		}
		if s.ID == 0 {
			c.show(s)
			continue
		}
		p.mu.Lock()
		p.waiting[s.ID] <- s
		delete(p.waiting, s.ID)
		p.mu.Unlock()
	}
}

// ask has the bot do something. It was not sent when the bot was dead already, and is not answered when it died before.
func (p *process) ask(m store.Member, d deed) (said spoken, sent, answered bool) {
	heard := make(chan spoken, 1)
	p.mu.Lock()
	p.last++
	id := p.last
	p.waiting[id] = heard
	line, err := json.Marshal(request{id, m, d})
	if err == nil && !p.over() {
		_, err = p.stdin.Write(append(line, '\n'))
		sent = err == nil
	}
	p.mu.Unlock()
	if !sent {
		return said, false, false
	}
	select {
	case said = <-heard:
		return said, true, true
	case <-p.dead:
	}
	select {
	case said = <-heard: // its last words
		return said, true, true
	default:
		return said, true, false
	}
}

// over reports whether it is dead.
func (p *process) over() bool {
	select {
	case <-p.dead:
		return true
	default:
		return false
	}
}

// kill kills it, with no time to say anything.
func (p *process) kill() {
	_ = p.cmd.Process.Kill()
	<-p.dead
}

// chat shows members what they are told: what comes again under the same key is dropped.
type chat struct {
	mu      sync.Mutex
	shown   map[string]map[string]string // by account, then key
	dropped int
}

func (c *chat) show(s spoken) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.shown == nil {
		c.shown = map[string]map[string]string{}
	}
	if c.shown[s.Account] == nil {
		c.shown[s.Account] = map[string]string{}
	}
	if _, again := c.shown[s.Account][s.Key]; again {
		c.dropped++
		return
	}
	c.shown[s.Account][s.Key] = s.Text
}

// count is how many messages members have seen.
func (c *chat) count() (n int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, shown := range c.shown {
		n += len(shown)
	}
	return n
}

package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"spareounce/bot/chattest"
	"spareounce/store/storetest"
)

// TestTheShippedProgramPlaysAStory builds the program as it is shipped and runs it unchanged: it believes that it speaks
// with Discord, through a proxy and with an authority's certificate that are the test's. A keeper takes the first steps
// and adds a series from a file; three members tell what they have and want, and a ring of three is agreed.
func TestTheShippedProgramPlaysAStory(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("the program is built and run for this: not with -short")
	}
	srv := chattest.New(t, chattest.Patience(time.Minute))
	g := srv.Guild("Larch Lane Collectors")
	p := ship(t, srv.Door(), storetest.Database(t))
	if !srv.Connected() {
		t.Fatalf("the program never came: %s", p.said())
	}
	place := g.Channel("general")
	say := func(m *chattest.Member, command string, values chattest.Values, want string) *chattest.Message {
		t.Helper()
		said := m.Slash(place, command, values).Answer()
		if !strings.Contains(said.Text(), want) {
			t.Fatalf("/%s %v: %s\n%s", command, values, said.Text(), p.said())
		}
		return said
	}
	series, err := os.ReadFile("../../testdata/series/hedgerow.toml")
	if err != nil {
		t.Fatal(err)
	}
	begin := say(g.Owner, "begin", nil, "Series: none yet.")
	if said := g.Owner.Choose(begin, "Where posts to the whole group go", place).Answer(); !strings.Contains(said.Text(), "Everything I need there is allowed") {
		t.Error(said.Text())
	}
	say(g.Owner, "import", chattest.Values{"file": chattest.File{Name: "hedgerow.toml", Type: "application/toml", Data: series}}, "hedgerow: ")
	ann, bo, cy := g.Member("ann"), g.Member("bo"), g.Member("cy")
	for _, m := range []*chattest.Member{ann, bo, cy} {
		say(m, "reach", chattest.Values{"how": "message"}, "private message")
	}
	say(ann, "double", chattest.Values{"pieces": "hedgerow wren"}, "ann can spare hedgerow wren.")
	say(ann, "want", chattest.Values{"pieces": "hedgerow sloe"}, "ann wants hedgerow sloe.")
	say(bo, "double", chattest.Values{"pieces": "haw"}, "bo can spare hedgerow haw.")
	say(bo, "want", chattest.Values{"pieces": "wren"}, "bo wants hedgerow wren.")
	say(cy, "double", chattest.Values{"pieces": "sloe"}, "cy can spare hedgerow sloe.")
	say(cy, "want", chattest.Values{"pieces": "hedgerow haw"}, "cy wants hedgerow haw.")
	for _, m := range []*chattest.Member{ann, bo, cy} {
		asked := m.Await(func(x *chattest.Message) bool { return strings.Contains(x.Text(), "a ring of 3") })
		m.Press(asked, "Accept").Answer()
	}
	for _, m := range []*chattest.Member{ann, bo, cy} {
		m.Await(func(x *chattest.Message) bool { return strings.Contains(x.Text(), "Trade 1 is agreed.") })
	}
	if card := say(ann, "gaps", chattest.Values{"series": "hedgerow"}, "hedgerow: 1 of "); len(card.Attachments) != 1 {
		t.Errorf("no set card: %+v", card)
	}
	p.stop()
	for _, want := range []string{"Invite the bot: https://discord.com/oauth2/authorize?client_id=" + srv.ApplicationID() + "&scope=bot+applications.commands&permissions=343597501440\n", "Connected as "} {
		if !strings.Contains(p.said(), want) {
			t.Errorf("nobody is told %q:\n%s", want, p.said())
		}
	}
	if strings.Contains(p.said(), chattest.Token) {
		t.Errorf("the token is shown: %s", p.said())
	}
}

// shipped is the program, running.
type shipped struct {
	t    *testing.T
	cmd  *exec.Cmd
	mu   sync.Mutex
	text bytes.Buffer
}

func (p *shipped) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.Write(b)
}

func (p *shipped) said() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.String()
}

// ship builds the program and starts it behind a door.
func ship(t *testing.T, door *chattest.Door, database string) *shipped {
	t.Helper()
	file := filepath.Join(t.TempDir(), "spareounce")
	if out, err := exec.Command("go", "build", "-trimpath", "-ldflags=-s -w", "-o", file, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	p := &shipped{t: t, cmd: exec.Command(file, "serve")}
	p.cmd.Env = append(os.Environ(), door.Env()...)
	p.cmd.Env = append(p.cmd.Env, "SPAREOUNCE_DISCORD_TOKEN="+chattest.Token, "SPAREOUNCE_DATABASE_URL="+database, "SPAREOUNCE_LOG=INFO")
	p.cmd.Stdout, p.cmd.Stderr = p, p
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if p.cmd.ProcessState == nil {
			_ = p.cmd.Process.Kill()
			_ = p.cmd.Wait()
		}
	})
	return p
}

// stop asks the program to stop as an operator does, and expects it to end well.
func (p *shipped) stop() {
	p.t.Helper()
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		p.t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- p.cmd.Wait() }()
	select {
	case err := <-ended:
		if err != nil {
			p.t.Errorf("it ended with %v: %s", err, p.said())
		}
	case <-time.After(time.Minute):
		p.t.Errorf("it does not stop: %s", p.said())
	}
}

// TestFigures measures what a README can say, when SPAREOUNCE_FIGURES asks for it: the memory of the shipped program in
// 2,500 servers, and how many commands it answers a second when members wait for each answer before they ask again.
func TestFigures(t *testing.T) {
	if os.Getenv("SPAREOUNCE_FIGURES") == "" {
		t.Skip("set SPAREOUNCE_FIGURES to measure")
	}
	const servers, askers, length = 2500, 16, 20 * time.Second
	srv := chattest.New(t, chattest.Patience(time.Minute), chattest.Lenient(), chattest.HandWritten(), chattest.Keep(2000))
	groups := make([]*chattest.Guild, servers)
	for i := range groups {
		groups[i] = srv.Guild("Group " + strconv.Itoa(i))
	}
	p := ship(t, srv.Door(), storetest.Database(t))
	if !srv.Connected() {
		t.Fatal(p.said())
	}
	time.Sleep(15 * time.Second) // the servers are told one by one, and leave no trace that one could wait for
	t.Logf("in %d servers: %s", servers, p.memory())
	var took []time.Duration
	var acknowledged []time.Duration
	var mu sync.Mutex
	var all sync.WaitGroup
	end := time.Now().Add(length)
	for n := range askers {
		all.Go(func() {
			g := groups[n]
			m, place := g.Member("m"), g.Channel("general")
			for time.Now().Before(end) {
				i := m.Slash(place, "trades", nil)
				if !i.Answered() {
					t.Error("not answered")
					return
				}
				first, whole := i.Took()
				mu.Lock()
				took, acknowledged = append(took, whole), append(acknowledged, first)
				mu.Unlock()
			}
		})
	}
	all.Wait()
	slices.Sort(took)
	slices.Sort(acknowledged)
	at := func(sorted []time.Duration, part float64) time.Duration {
		return sorted[int(part*float64(len(sorted)-1))]
	}
	t.Logf("%d commands in %v, %.0f a second, %d at a time", len(took), length, float64(len(took))/length.Seconds(), askers)
	t.Logf("to acknowledgement: p50 %v, p99 %v, worst %v", at(acknowledged, .5), at(acknowledged, .99), at(acknowledged, 1))
	t.Logf("to answer: p50 %v, p99 %v, worst %v", at(took, .5), at(took, .99), at(took, 1))
	t.Logf("after that: %s", p.memory())
	p.stop()
}

// memory is what the system says of the program's memory, where it says so in Linux's manner.
func (p *shipped) memory() string {
	text, err := os.ReadFile("/proc/" + strconv.Itoa(p.cmd.Process.Pid) + "/status")
	if err != nil {
		return "unknown here"
	}
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "VmRSS:") {
			return strings.Join(strings.Fields(line), " ")
		}
	}
	return "unknown here"
}

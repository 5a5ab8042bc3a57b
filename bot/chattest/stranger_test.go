package chattest_test

import (
	"bufio"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"spareounce/bot/chattest"
)

// strangerLibrary is a general-purpose client library from the npm registry, in a version that node 18 can run.
const strangerLibrary = "discord.js@14.28.1"

// A stranger is a bot on a client library that we did not write.
type stranger struct {
	t     *testing.T
	heard chan object
}

// invite installs the library and starts the bot on it; the test is skipped, loudly, where there is no node or registry.
func invite(t *testing.T, srv *chattest.Server) *stranger {
	t.Helper()
	for _, program := range []string{"node", "npm"} {
		if _, err := exec.LookPath(program); err != nil {
			t.Skipf("NOT PROVED TO A STRANGER: %v", err)
		}
	}
	home := t.TempDir()
	fetch := exec.CommandContext(t.Context(), "npm", "install", "--ignore-scripts", "--no-audit", "--no-fund", "--no-save",
		"--prefix", home, strangerLibrary)
	fetch.Dir = home
	if out, err := fetch.CombinedOutput(); err != nil {
		t.Skipf("NOT PROVED TO A STRANGER: npm install %s: %v\n%s", strangerLibrary, err, out)
	}
	node := exec.Command("node", filepath.Join("testdata", "join.mjs"))
	node.Env = append(os.Environ(), "CHAT_URL="+srv.URL(), "CHAT_TOKEN="+chattest.Token, "CHAT_MODULES="+home)
	node.Stderr = os.Stderr
	in, err := node.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := node.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := node.Start(); err != nil {
		t.Fatal(err)
	}
	s := &stranger{t: t, heard: make(chan object, 100)}
	go s.listen(out)
	t.Cleanup(func() {
		_ = in.Close() // which ends the program
		late := time.AfterFunc(10*time.Second, func() { _ = node.Process.Kill() })
		defer late.Stop()
		if err := node.Wait(); err != nil {
			t.Logf("the stranger: %v", err)
		}
	})
	return s
}

func (s *stranger) listen(out io.Reader) {
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		var o object
		if json.Unmarshal(lines.Bytes(), &o) == nil {
			s.heard <- o
		}
	}
	close(s.heard)
}

// hears waits until the stranger hears an event of that name.
func (s *stranger) hears(name string) object {
	s.t.Helper()
	for {
		select {
		case o, ok := <-s.heard:
			switch {
			case !ok:
				s.t.Fatalf("the stranger is gone, before %s", name)
			case o["event"] == "error" || o["event"] == "warning":
				s.t.Errorf("the stranger complains: %v", o["message"])
			case o["event"] == name:
				return o
			}
		case <-time.After(20 * time.Second):
			s.t.Fatalf("the stranger did not hear %s", name)
		}
	}
}

// A bot on a client library that we did not write joins the stand-in, sees what members say and do, and answers; members
// see its answers. Its requests, and our answers to it, pass all checks.
func TestStranger(t *testing.T) {
	srv := chattest.New(t, chattest.WithPrivileged(chattest.MessageContent), chattest.Patience(20*time.Second))
	g := srv.Guild("Larch Lane Collectors")
	ch, ann, bea := g.Channel("haves-and-wants"), g.Member("ann"), g.Member("bea")
	bot := invite(t, srv)
	ready := bot.hears("ready")
	if ready["user"] != srv.ApplicationID() || !strings.Contains(toJSON(ready["guilds"]), g.Name) || !strings.Contains(toJSON(ready["channels"]), "haves-and-wants") {
		t.Errorf("ready with %v", ready)
	}

	ann.Say(ch, "ping")
	if m := bot.hears("message"); m["author"] != "ann" || m["content"] != "ping" {
		t.Errorf("heard %v", m)
	}
	pong := bea.Await(func(m *chattest.Message) bool { return m.Content == "pong" })
	if pong.ReplyTo == "" || len(pong.Attachments) != 1 || string(pong.Attachments[0].Data) != "82-86" {
		t.Errorf("bea reads %+v", pong)
	}

	if c := ann.Complete(ch, "want", "pieces", "82", nil).Choices(); len(c) != 1 || c[0].Name != "all of 82" {
		t.Errorf("offered %v", c)
	}
	want := ann.Slash(ch, "want", chattest.Values{"pieces": "82-86", "from": bea, "list": chattest.File{Name: "mine.csv", Data: []byte("82")}})
	if c := bot.hears("command"); c["pieces"] != "82-86" || c["file"] != "mine.csv" || c["from"] != "bea" {
		t.Errorf("heard %v", c)
	}
	noted := want.Answer()
	if id := bot.hears("noted")["id"]; noted.Text() != "Noted: 82-86\n[Undo]" || id != noted.ID {
		t.Errorf("ann reads %q", noted.Text())
	}
	if m := ann.Press(noted, "Undo").Answer(); m.Text() != "Taken back." {
		t.Errorf("ann reads %q", m.Text())
	}
	form := ann.Slash(ch, "form", nil).Modal()
	if m := ann.Submit(form, chattest.Values{"Pieces": "90-99"}).Answer(); m.Content != "Read: 90-99" {
		t.Errorf("ann reads %q", m.Content)
	}

	slow := ann.Slash(ch, "slow", nil)
	if m := slow.FollowUps(1)[0]; m.Content != "and more" || !m.Ephemeral || slow.Answer().Content != "there" {
		t.Errorf("ann reads %+v", m)
	}
	ann.Await(func(m *chattest.Message) bool { return m.Channel == ann.DM() && m.Content == "in private" })
	bot.hears("thread")
	ann.Await(func(m *chattest.Message) bool { return m.Content == "in the thread" })
	for _, s := range bea.Saw() {
		if c := s.Message.Content; c == "there" || c == "and more" || c == "in private" || c == "in the thread" {
			t.Errorf("bea sees %q", c)
		}
	}

	srv.Reconnect()
	bot.hears("resumed")
	srv.CutConnections()
	ann.Say(ch, "while you were away")
	if m := bot.hears("message"); m["content"] != "while you were away" {
		t.Errorf("heard %v", m)
	}
	srv.Guild("Second Street").Remove()
	if o := bot.hears("guild"); o["name"] != "Second Street" {
		t.Errorf("joined %v", o)
	}
	bot.hears("removed")
}

func toJSON(v any) string {
	data, _ := json.Marshal(v)
	return string(data)
}

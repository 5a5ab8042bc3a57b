package chattest_test

import (
	"net/http"
	"runtime"
	"strings"
	"testing"
	"time"

	"spareounce/bot/chattest"
)

// Closing leaves no goroutine behind, whatever was going on.
func TestCloseLeavesNothing(t *testing.T) {
	srv := chattest.New(t)
	g := srv.Guild("Larch Lane Collectors")
	b := join(t, srv)
	b.register(cmd(nil))
	dial(t, srv, "&compress=zlib-stream")
	srv.Door()
	g.Member("ann").Slash(g.Channel("general"), "want", nil)
	srv.HalfOpen()
	srv.Close()
	srv.Close()
	http.DefaultClient.CloseIdleConnections()
	var left []string
	for range 100 {
		left = nil
		buf := make([]byte, 1<<20)
		for stack := range strings.SplitSeq(string(buf[:runtime.Stack(buf, true)]), "\n\n") {
			if strings.Contains(stack, "chattest.(*") && !strings.Contains(stack, "chattest_test.") {
				left = append(left, stack)
			}
		}
		if len(left) == 0 {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Errorf("still there:\n%s", strings.Join(left, "\n\n"))
}

// What the server remembers is bounded.
func TestKeep(t *testing.T) {
	s := set(t, chattest.Keep(50))
	for range 300 {
		s.ann.Slash(s.ch, "want", nil)
		id, token, _ := s.interaction()
		s.answer(id, token, hello)
	}
	if n := len(s.srv.Requests()); n > 100 {
		t.Errorf("%d requests kept", n)
	}
	if n := len(s.ann.Saw()); n > 100 {
		t.Errorf("%d sightings kept", n)
	}
	if n := len(s.ann.Screen(s.ch)); n > 50 {
		t.Errorf("%d messages kept", n)
	}
}

// BenchmarkCommand is a command from a member's hand to the answer on the screen, checks and all.
func BenchmarkCommand(b *testing.B) {
	srv := chattest.New(b)
	g := srv.Guild("Larch Lane Collectors")
	ann, ch := g.Member("ann"), g.Channel("general")
	bot := join(b, srv)
	bot.register(cmd(nil))
	for b.Loop() {
		i := ann.Slash(ch, "want", nil)
		id, token, _ := bot.interaction()
		bot.answer(id, token, hello)
		i.Answer()
	}
}

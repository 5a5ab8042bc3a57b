package main

import (
	"strings"
	"sync"
	"testing"
	"time"

	"spareounce/bot/chattest"
	"spareounce/store/storetest"
)

// TestTheShippedProgramIsReplaced starts a second program beside the first and stops the first while a member speaks all
// the time, as a rolling restart does; then it cuts the second's connection. Nothing is lost, and the session is taken up
// again at its own address, which is another host. When the second is killed, a third takes over.
func TestTheShippedProgramIsReplaced(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("the program is built and run for this: not with -short")
	}
	srv := chattest.New(t, chattest.Patience(time.Minute), chattest.Acknowledge(12*time.Second)) // the machine does much else
	g := srv.Guild("Larch Lane Collectors")
	door, database := srv.Door(), storetest.Database(t)
	first := ship(t, door, database)
	if !srv.Connected() {
		t.Fatalf("the program never came: %s", first.said())
	}
	ann, place := g.Member("ann"), g.Channel("general")
	ann.Slash(place, "trades", nil).Answer()
	second := ship(t, door, database)
	second.says(t, "stands by")

	var said []*chattest.Interaction
	end := make(chan struct{})
	var talk sync.WaitGroup
	talk.Go(func() {
		every := time.NewTicker(100 * time.Millisecond)
		defer every.Stop()
		for {
			said = append(said, ann.Slash(place, "trades", nil))
			select {
			case <-every.C:
			case <-end:
				return
			}
		}
	})
	began := time.Now()
	first.stop()
	t.Logf("the first handed over and ended in %v", time.Since(began).Round(10*time.Millisecond))
	time.Sleep(500 * time.Millisecond)
	if began, resumed := srv.Identified(); began != 2 || resumed != 0 {
		t.Errorf("%d sessions began and %d were taken up", began, resumed)
	}
	srv.CutConnections()
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		if _, resumed := srv.Identified(); resumed == 1 {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("the session was not taken up: %s", second.said())
		}
	}
	time.Sleep(500 * time.Millisecond)
	close(end)
	talk.Wait()
	var worst time.Duration
	for _, i := range said {
		if !i.Acknowledged() || !i.Answered() || i.Attempts() != 1 {
			t.Errorf("not answered once: %s", i.Story())
		}
		took, _ := i.Took()
		worst = max(worst, took)
	}
	t.Logf("%d were said, and acknowledged after %v at most", len(said), worst.Round(time.Millisecond))
	if srv.Astray() > 0 {
		t.Error("the session was taken up at another address than its own")
	}
	third := ship(t, door, database)
	third.says(t, "stands by")
	began = time.Now()
	if err := second.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	third.says(t, "Connected as")
	t.Logf("the third took over %v after the second was killed", time.Since(began).Round(100*time.Millisecond))
	ann.Slash(place, "trades", nil).Answer()
	third.stop()
	for _, p := range []*shipped{first, second, third} {
		if strings.Contains(p.said(), chattest.Token) {
			t.Errorf("the token is shown: %s", p.said())
		}
	}
}

// says waits until the program has said some words.
func (p *shipped) says(t *testing.T, words string) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !strings.Contains(p.said(), words); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("it never says %q: %s", words, p.said())
		}
	}
}

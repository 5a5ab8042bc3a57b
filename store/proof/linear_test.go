package proof

import (
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"

	"spareounce/match/trade"
	"spareounce/store"
	"spareounce/store/storetest"
)

// Sixty-four members at once, 100,000 deeds at full size: whatever they were answered could have been answered by doing
// one deed after another.
func TestAgreementsAreLinearizable(t *testing.T) {
	const members, each = 64, 12
	deeds := choose(3_000, 100_000)
	address := storetest.Database(t)
	s, err := store.Open(t.Context(), address, still, quiet())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	islands := furnish(t, s, members/perIsland)
	done, agreed := 0, 0
	var busy time.Duration
	for round := uint64(0); done < deeds; round++ {
		clear(t, address)
		random := rand.New(rand.NewPCG(round, 1))
		for _, i := range islands {
			i.beginAnew(t, s, random)
		}
		for _, i := range islands {
			i.survey(t, s)
		}
		began := time.Now()
		var all sync.WaitGroup
		for n, i := range islands {
			var mu sync.Mutex
			for j := range i.members {
				own := rand.New(rand.NewPCG(round, uint64(2+n*perIsland+j)))
				all.Go(func() {
					for range each {
						i.act(t, s, &mu, began, j, i.pick(j, own))
					}
				})
			}
		}
		all.Wait()
		busy += time.Since(began)
		for _, i := range islands {
			done += len(i.history)
			agreed += i.ask(t, s, began)
			i.check(t)
		}
		if t.Failed() {
			t.FailNow()
		}
	}
	t.Logf("%d deeds of %d members at once in %v, %d trades agreed", done, members, busy.Round(time.Millisecond), agreed)
	if agreed < deeds/100 {
		t.Errorf("only %d trades were agreed in %d deeds: the test says little", agreed, done)
	}
}

// act does a deed and writes down when it was asked and answered.
func (i *island) act(t *testing.T, s *store.Store, mu *sync.Mutex, began time.Time, j int, d deed) {
	call := time.Since(began)
	got, err := do(t.Context(), s, i.members[j], d)
	answered := time.Since(began)
	if err != nil {
		t.Errorf("%+v: %v", d, err)
	}
	mu.Lock()
	defer mu.Unlock()
	i.history = append(i.history, porcupine.Operation{ClientId: j, Input: d, Call: int64(call), Output: got, Return: int64(answered)})
}

// ask looks at everything when nobody does anything any more, and counts the trades that came to be agreed.
func (i *island) ask(t *testing.T, s *store.Store, began time.Time) (agreed int) {
	t.Helper()
	var mu sync.Mutex
	for _, d := range i.asked {
		for j, m := range i.members {
			if m.ID == d.By {
				i.act(t, s, &mu, began, j, d)
			}
		}
	}
	for n := range i.begin.trades {
		if one := i.last(n); one == trade.Agreed.String() || one == trade.Closed.String() {
			agreed++
		}
	}
	return agreed
}

// last is the state in which a trade was last seen.
func (i *island) last(n int64) (state string) {
	for _, o := range i.history {
		if d := o.Input.(deed); d.Trade == n && d.Kind == look {
			state = field(o.Output.(answer).Seen, 2)
		}
	}
	return state
}

func field(line string, n int) string {
	words := strings.Fields(line)
	if n >= len(words) {
		return ""
	}
	return words[n]
}

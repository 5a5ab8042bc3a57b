package match

import (
	"runtime"
	"slices"
	"syscall"
	"testing"
	"time"

	"spareounce/match/melt"
)

// largeGroup is the group that questions are measured on: 10,000 members.
func largeGroup(b *testing.B) *Pool {
	b.Helper()
	return drawGroup(1, 10_000)
}

// BenchmarkFiguresIndex measures what is asked while someone is typing, of a group of 10,000 members in memory: p50, p99
// and the worst of a few hundred or thousand questions, each about another member or piece.
func BenchmarkFiguresIndex(b *testing.B) {
	p := largeGroup(b)
	d := dice(99)
	var x *Index
	b.Run("built", func(b *testing.B) {
		before := memoryInUse()
		for b.Loop() {
			x = nil
			x = NewIndex(p)
		}
		b.ReportMetric(float64(memoryInUse()-before)/1e6, "MB")
		b.ReportMetric(float64(len(p.Spares)), "spares")
		b.ReportMetric(float64(len(p.Wants)), "wants")
	})
	if x == nil {
		x = NewIndex(p)
	}
	swaps, threes := NewIndex(p), x
	swaps.b.ring = 2
	anyone := func() Member { return p.Members[d.upTo(len(p.Members)-1)].ID }
	anySpare := func() Spare { return p.Spares[d.upTo(len(p.Spares)-1)] }
	for _, question := range []struct {
		name  string
		times int
		ask   func() func()
	}{
		{"who has it", 20_000, func() func() {
			piece := p.Pieces[d.upTo(len(p.Pieces)-1)].ID
			return func() { x.WhoHas(piece) }
		}},
		{"a spare posted", 20_000, func() func() {
			one := anySpare()
			one.Member = anyone()
			return func() { x.SetSpare(one) }
		}},
		{"a spare taken back", 20_000, func() func() {
			one := anySpare()
			one.Count = 0
			return func() { x.SetSpare(one) }
		}},
		{"a want posted", 20_000, func() func() {
			w := Want{anyone(), []Fill{{p.Pieces[d.upTo(len(p.Pieces)-1)].ID, melt.Minor(300 + d.upTo(1000))}}}
			return func() { x.AddWant(w) }
		}},
		{"a want taken back", 20_000, func() func() {
			w := d.upTo(len(p.Wants) - 1)
			return func() { x.RemoveWant(w) }
		}},
		{"swaps a spare opens", 1000, func() func() {
			one := anySpare()
			return func() { swaps.OpenedBySpare(one.Member, one.Piece, 5) }
		}},
		{"rings to three a spare opens", 400, func() func() {
			one := anySpare()
			return func() { threes.OpenedBySpare(one.Member, one.Piece, 5) }
		}},
		{"swaps a want opens", 1000, func() func() {
			w := d.upTo(len(p.Wants) - 1)
			return func() { swaps.OpenedByWant(w, 5) }
		}},
		{"rings to three a want opens", 500, func() func() {
			w := d.upTo(len(p.Wants) - 1)
			return func() { threes.OpenedByWant(w, 5) }
		}},
	} {
		b.Run(question.name, func(b *testing.B) {
			runtime.LockOSThread()
			defer runtime.UnlockOSThread()
			var took, worked []time.Duration
			for b.Loop() {
				for range question.times {
					ask := question.ask()
					start, before := time.Now(), processorTime(syscall.RUSAGE_THREAD)
					ask()
					took, worked = append(took, time.Since(start)), append(worked, processorTime(syscall.RUSAGE_THREAD)-before)
				}
			}
			reportSpread(b, "", took)
			reportSpread(b, "cpu-", worked)
		})
	}
}

// reportSpread reports the middle, the hundredth longest of ten thousand, and the longest.
func reportSpread(b *testing.B, prefix string, took []time.Duration) {
	slices.Sort(took)
	at := func(share float64) float64 { return float64(took[int(share*float64(len(took)-1))].Nanoseconds()) / 1e6 }
	b.ReportMetric(at(0.5), prefix+"p50-ms")
	b.ReportMetric(at(0.99), prefix+"p99-ms")
	b.ReportMetric(at(1), prefix+"worst-ms")
	b.ReportMetric(0, "ns/op")
}

// processorTime is what the program, or a thread of it, has worked so far on a machine that it may share with others.
func processorTime(who int) time.Duration {
	var used syscall.Rusage
	if err := syscall.Getrusage(who, &used); err != nil {
		return 0
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// memoryInUse is how much memory is in use once all that can be freed is.
func memoryInUse() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

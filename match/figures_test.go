package match

import (
	"bytes"
	"fmt"
	"os"
	"runtime/debug"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"spareounce/match/melt"
)

// figuresRow is a pool to clear, with so many seconds of an ordinary machine, and what is to be reached.
type figuresRow struct {
	name    string
	pool    func(testing.TB) *Pool
	ring    int
	seconds int
	goal    string // what the gain, the gap or the proof should come to
}

func givenRow(name, file string, ring, seconds int, goal string) figuresRow {
	return figuresRow{name, func(t testing.TB) *Pool { return givenPool(t, file) }, ring, seconds, goal}
}

func drawnRow(name string, members, ring, seconds int, goal string) figuresRow {
	return figuresRow{name, func(testing.TB) *Pool { return drawGroup(1, members) }, ring, seconds, goal}
}

// figuresRows are the rows of the table: each clears a pool once, as far as its seconds go at a step a microsecond.
func figuresRows() []figuresRow {
	var rows []figuresRow
	for i, c := range optima {
		rows = append(rows,
			givenRow(fmt.Sprintf("30 members seed %d swaps", i+1), c.pool, 2, 1, fmt.Sprintf("%d proved", c.swaps)),
			givenRow(fmt.Sprintf("30 members seed %d rings to 3", i+1), c.pool, 3, 10, fmt.Sprintf("%d proved", c.rings)))
	}
	return append(rows,
		givenRow("100 members swaps", "m100.json", 2, 3, "770198"),
		givenRow("100 members swaps bound", "m100.json", 2, 30, "gap 0.5 %"),
		givenRow("100 members rings to 3", "m100.json", 3, 60, "925954 gap 2 %"),
		givenRow("300 members swaps", "m300.json", 2, 30, "2035811"),
		givenRow("300 members swaps bound", "m300.json", 2, 300, "gap 1 %"),
		givenRow("300 members rings to 3", "m300.json", 3, 30, "2364596"),
		givenRow("300 members rings to 3 bound", "m300.json", 3, 300, "gap 3 %"),
		givenRow("1000 members rings to 3", "m1000.json", 3, 120, "8192588"),
		givenRow("1000 members rings to 3 bound", "m1000.json", 3, 600, "gap 6 % in 1 GB"),
		drawnRow("3000 members rings to 3", 3000, 3, 600, "a plan and a bound in 4 GB"),
		drawnRow("10000 members rings to 3", 10_000, 3, 600, "a plan and a bound in 4 GB"),
	)
}

// BenchmarkFigures prints the table of what clearing reaches: gain, bound, what is left between them, seconds on the
// wall and of the processors, and memory at its peak. DEVELOPERS.md has the command.
func BenchmarkFigures(b *testing.B) {
	for _, row := range figuresRows() {
		b.Run(row.name, func(b *testing.B) {
			p := row.pool(b)
			p.Ring = row.ring
			for b.Loop() {
				measure(b, p, row.seconds*1_000_000).report(b)
			}
			b.Logf("to reach: %s", row.goal)
		})
	}
	for i, c := range optima {
		b.Run(fmt.Sprintf("30 members seed %d swaps by GLPK", i+1), func(b *testing.B) {
			p := givenPool(b, c.pool)
			p.Ring = 2
			program := directProgram(p)
			for b.Loop() {
				before := processorTime(syscall.RUSAGE_CHILDREN)
				gain, optimal := glpk(b, program, time.Minute)
				b.ReportMetric(float64(gain), "gain")
				b.ReportMetric(float64(yes(optimal)), "proved")
				b.ReportMetric((processorTime(syscall.RUSAGE_CHILDREN) - before).Seconds(), "cpu-s")
			}
		})
	}
}

// measured is what a clearing reached, and what it took.
type measured struct {
	plan      Plan
	bound     Bound
	wall, cpu time.Duration
	peak      float64 // bytes
}

// measure clears a pool and fails unless the plan keeps the rules.
func measure(t testing.TB, p *Pool, steps int) measured {
	t.Helper()
	debug.FreeOSMemory()
	_ = os.WriteFile("/proc/self/clear_refs", []byte("5"), 0) // starts the peak anew, where there is such a thing
	start, before := time.Now(), processorTime(syscall.RUSAGE_SELF)
	var m measured
	m.plan, m.bound = Clear(p, Options{Steps: steps})
	m.wall, m.cpu = time.Since(start), processorTime(syscall.RUSAGE_SELF)-before
	m.peak = peakMemory()
	if len(p.Wants) <= 100_000 { // the naive referee takes too long for more
		if broken, gain := referee(p, m.plan.Trades); len(broken) > 0 || gain != m.plan.Gain || m.bound.Gain < gain {
			t.Fatalf("%q: gains %d, says %d, bound %d", broken, gain, m.plan.Gain, m.bound.Gain)
		}
	}
	return m
}

func (m measured) gap() float64 {
	return 100 * float64(m.bound.Gain-m.plan.Gain) / float64(max(melt.Minor(1), m.bound.Gain))
}

func (m measured) report(b *testing.B) {
	b.ReportMetric(float64(m.plan.Gain), "gain")
	b.ReportMetric(float64(m.bound.Gain), "bound")
	b.ReportMetric(m.gap(), "gap-%")
	b.ReportMetric(float64(yes(m.bound.Optimal)), "proved")
	b.ReportMetric(m.wall.Seconds(), "wall-s")
	b.ReportMetric(m.cpu.Seconds(), "cpu-s")
	b.ReportMetric(m.peak/1e6, "peak-MB")
	b.ReportMetric(0, "ns/op")
}

func yes(b bool) int {
	if b {
		return 1
	}
	return 0
}

// peakMemory reads the most memory that the process has had in use, in bytes; 0 where the system does not say.
func peakMemory() float64 {
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range bytes.Lines(text) {
		if size, ok := strings.CutPrefix(string(line), "VmHWM:"); ok {
			n, _ := strconv.ParseFloat(strings.Fields(size)[0], 64)
			return n * 1024
		}
	}
	return 0
}

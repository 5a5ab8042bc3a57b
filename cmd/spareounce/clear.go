package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"golang.org/x/term"

	"spareounce/match"
)

// clearCommand clears a pool file: no database, no chat, no network.
type clearCommand struct {
	Budget int    `default:"20000000" placeholder:"STEPS" help:"How much work to do, each step about a microsecond; the same steps give the same plan on every machine."`
	Ring   int    `placeholder:"N" help:"Most members in a ring, instead of what the file says."`
	JSON   bool   `name:"json" help:"Print the plan as JSON."`
	File   string `arg:"" help:"A pool file; - for standard input."`
}

// Run reads, clears and prints. A file that is no pool is refused with every line that is wrong in it, and status 2.
func (c clearCommand) Run(p *program) error {
	if c.Budget < 0 || c.Ring < 0 || c.Ring == 1 {
		return exit{2, errors.New("--budget counts steps and --ring members, at least 2")}
	}
	pool, err := readPool(p, c.File)
	if err != nil {
		return exit{2, err}
	}
	if c.Ring > 0 {
		pool.Ring = c.Ring
	}
	cleared := make(chan struct{})
	meter := newMeter(p.err, c.Budget)
	var plan match.Plan
	var bound match.Bound
	go func() {
		plan, bound = match.Clear(pool, match.Options{Steps: c.Budget, Progress: meter.show})
		close(cleared)
	}()
	select {
	case <-p.ctx.Done():
		return exit{1, errors.New("stopped before the plan was made")}
	case <-cleared:
	}
	meter.wipe()
	var text bytes.Buffer
	if c.JSON {
		err = match.WritePlan(&text, plan, bound)
	} else {
		planText{pool, &text}.write(plan, bound)
	}
	if err == nil {
		_, err = text.WriteTo(p.out)
	}
	return err
}

func readPool(p *program, file string) (*match.Pool, error) {
	in := p.in
	if file != "-" {
		f, err := os.Open(file)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		in = f
	}
	pool, err := match.ReadPool(in)
	if bad, ok := errors.AsType[*match.PoolError](err); ok {
		return nil, fmt.Errorf("this pool can't be cleared as it is:\n%w", bad)
	}
	return pool, err
}

// meter shows on a terminal how far a clearing has come, on one line that is written over.
type meter struct {
	out    io.Writer // nil: nobody watches
	budget int
}

func newMeter(out io.Writer, budget int) meter {
	if f, ok := out.(*os.File); !ok || !term.IsTerminal(int(f.Fd())) {
		out = nil
	}
	return meter{out, budget}
}

func (m meter) show(at match.Progress) {
	if m.out != nil {
		fmt.Fprintf(m.out, "\r\x1b[K%3.0f %% of the steps; gain %d, no plan above %d", percent(at.Steps, m.budget), at.Gain, at.Bound)
	}
}

func (m meter) wipe() {
	if m.out != nil {
		fmt.Fprint(m.out, "\r\x1b[K")
	}
}

func percent(of, all int) float64 {
	return 100 * min(1, float64(of)/float64(max(1, all)))
}

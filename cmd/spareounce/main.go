// Command spareounce is a companion for groups of collectors who complete series of privately minted silver rounds and
// bars: it hears what they have, can spare and want, shows the gaps, and finds the trades that fill gaps on both sides.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// commands is the command line. Every flag can be given in the environment too.
type commands struct {
	DatabaseURL string     `env:"SPAREOUNCE_DATABASE_URL" placeholder:"URL" help:"Use this PostgreSQL (15 to 18) instead of a private one."`
	Data        string     `env:"SPAREOUNCE_DATA" type:"path" placeholder:"FOLDER" help:"Where the private PostgreSQL keeps its data; your data home by default."`
	NoFetch     bool       `env:"SPAREOUNCE_NO_FETCH" help:"Never fetch PostgreSQL's programs, even when this machine has none."`
	FeedInside  []string   `env:"SPAREOUNCE_FEED_INSIDE" placeholder:"HOST" help:"Hosts of your own network that price feeds may be on; none other there is ever called."`
	LogLevel    slog.Level `env:"SPAREOUNCE_LOG" default:"WARN" help:"How much to log: DEBUG, INFO, WARN or ERROR."`

	Try     tryCommand     `cmd:"" help:"Start a demonstration group and the local room, a web page on this machine."`
	Serve   serveCommand   `cmd:"" help:"Serve Discord when there is a token for it, else the local room."`
	Play    playCommand    `cmd:"" help:"Play a transcript against a fresh group and print the whole talk."`
	Series  seriesCommands `cmd:"" help:"Check, import and export series."`
	Clear   clearCommand   `cmd:"" help:"Find the best trades for a whole pool file, with a proven bound on any others."`
	Pool    poolCommand    `cmd:"" help:"Write a group as a pool file that names nobody, for clear."`
	Migrate migrateCommand `cmd:"" help:"Bring the database to the present schema, then stop."`
}

// program is what every command is run with.
type program struct {
	ctx      context.Context
	commands *commands
	in       io.Reader
	out, err io.Writer
	log      *slog.Logger
}

// exit is an error with a status of its own; a nil reason has been printed already.
type exit struct {
	status int
	reason error
}

func (e exit) Error() string {
	if e.reason == nil {
		return fmt.Sprintf("status %d", e.status)
	}
	return e.reason.Error()
}

// run is the program: 0 when it did its work, 1 when it could not, 2 when it was asked wrongly.
func run(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) int {
	var c commands
	parser, err := kong.New(&c, kong.Name("spareounce"), kong.Writers(out, errs), kong.UsageOnError(),
		kong.Description("A companion for groups of collectors who complete series of silver rounds and bars.\n\nStart here: spareounce try"),
		kong.Exit(func(int) {}))
	if err != nil {
		fmt.Fprintln(errs, "spareounce:", err)
		return 2
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	parsed, err := parser.Parse(args)
	if asksForHelp(args) {
		return 0
	}
	if err != nil {
		fmt.Fprintln(errs, "spareounce:", err)
		return 2
	}
	p := &program{ctx, &c, in, out, errs, slog.New(slog.NewTextHandler(errs, &slog.HandlerOptions{Level: c.LogLevel}))}
	err = parsed.Run(p)
	if e, ok := errors.AsType[exit](err); ok {
		if e.reason != nil {
			fmt.Fprintln(errs, "spareounce:", e.reason)
		}
		return e.status
	}
	if err != nil && ctx.Err() == nil {
		fmt.Fprintln(errs, "spareounce:", err)
		return 1
	}
	return 0
}

func asksForHelp(args []string) bool {
	for _, a := range args {
		if a == "--help" || a == "-h" {
			return true
		}
	}
	return false
}

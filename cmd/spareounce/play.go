package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	"spareounce/bot/seriesfile"
	"spareounce/bot/talk"
	"spareounce/match/series"
)

// playCommand plays transcripts.
type playCommand struct {
	Series []string `short:"s" placeholder:"FILE" help:"Import a series first; may be given several times."`
	Check  bool     `help:"Compare with the bot's lines in the file; exit 1 with the first difference."`
	Files  []string `arg:"" name:"file" help:"Transcripts; - for standard input."`
}

// Run plays each file against a fresh group.
func (c playCommand) Run(p *program) error {
	all, err := readSeries(p, c.Series)
	if err != nil {
		return exit{2, err}
	}
	s, err := p.startServer()
	if err != nil {
		return err
	}
	defer s.close()
	differs := false
	for _, file := range c.Files {
		script, err := readScript(p, file)
		if err != nil {
			return exit{2, fmt.Errorf("%s: %w", file, err)}
		}
		out, err := p.playOne(s, script, all)
		if !c.Check && len(out) > 0 {
			fmt.Fprintln(p.out, strings.Join(out, "\n"))
		}
		if err != nil {
			return exit{2, fmt.Errorf("%s: %w", file, err)}
		}
		if !c.Check {
			continue
		}
		if difference := talk.Compare(script, out); difference != "" {
			fmt.Fprintf(p.out, "%s: %s\n", file, difference)
			differs = true
		}
	}
	if differs {
		return exit{1, nil}
	}
	return nil
}

func readScript(p *program, file string) ([]talk.Line, error) {
	if file == "-" {
		return talk.Parse(p.in)
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return talk.Parse(f)
}

func (p *program) playOne(s *server, script []talk.Line, all []series.Series) ([]string, error) {
	address, forget, err := p.freshDatabase(s)
	if err != nil {
		return nil, err
	}
	defer forget()
	player, err := talk.NewPlayer(p.ctx, address, p.log, all)
	if err != nil {
		return nil, err
	}
	defer player.Close()
	return player.Play(p.ctx, script)
}

// readSeries reads series files; a file with mistakes is refused with all of them.
func readSeries(p *program, files []string) ([]series.Series, error) {
	var all []series.Series
	for _, file := range files {
		text, err := readFile(p, file)
		if err != nil {
			return nil, err
		}
		one, remarks := seriesfile.Read(file, text)
		if seriesfile.Mistakes(remarks) {
			for _, r := range remarks {
				fmt.Fprintln(p.err, r)
			}
			return nil, fmt.Errorf("%s can't be used as it is", file)
		}
		all = append(all, one)
	}
	return all, nil
}

// longestFile is the most we read of one file.
const longestFile = 4 << 20

func readFile(p *program, file string) ([]byte, error) {
	if file == "-" {
		return io.ReadAll(io.LimitReader(p.in, longestFile))
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, longestFile))
}

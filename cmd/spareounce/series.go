package main

import (
	"fmt"
	"os"

	"spareounce/bot/seriesfile"
)

// seriesCommands work on series files.
type seriesCommands struct {
	Check  checkCommand  `cmd:"" help:"Find every mistake in series files, with line and column."`
	Import importCommand `cmd:"" help:"Add series to a group's catalogue, or correct them."`
	Export exportCommand `cmd:"" help:"Write a series of a group as a file."`
}

type checkCommand struct {
	Files []string `arg:"" name:"file" help:"Series files; - for standard input."`
}

// Run prints every remark; a file with mistakes makes the exit status 1.
func (c checkCommand) Run(p *program) error {
	bad := false
	for _, file := range c.Files {
		text, err := readFile(p, file)
		if err != nil {
			return exit{2, err}
		}
		one, remarks := seriesfile.Read(file, text)
		for _, r := range remarks {
			fmt.Fprintln(p.out, r)
		}
		if seriesfile.Mistakes(remarks) {
			bad = true
			continue
		}
		fmt.Fprintf(p.out, "%s: %s, %d pieces, %d slots on the first checklist\n", file, one.Name, len(one.Pieces), len(one.Checklists[0].Slots))
	}
	if bad {
		return exit{1, nil}
	}
	return nil
}

type importCommand struct {
	Group string   `default:"room" help:"The chat's own id of the group."`
	Files []string `arg:"" name:"file" help:"Series files; - for standard input."`
}

// Run imports every file, or none when one has mistakes.
func (c importCommand) Run(p *program) error {
	all, err := readSeries(p, c.Files)
	if err != nil {
		return exit{2, err}
	}
	st, g, closeAll, err := p.openGroup(c.Group)
	if err != nil {
		return err
	}
	defer closeAll()
	for _, one := range all {
		if err := st.SaveSeries(p.ctx, g.ID, one); err != nil {
			return fmt.Errorf("%s: %w", one.Code, err)
		}
		fmt.Fprintf(p.out, "%s: %s, %d pieces\n", one.Code, one.Name, len(one.Pieces))
	}
	return nil
}

type exportCommand struct {
	Group string `default:"room" help:"The chat's own id of the group."`
	Code  string `arg:"" help:"The series' code."`
	Out   string `short:"o" placeholder:"FILE" help:"Where to write it; standard output by default."`
}

// Run writes the file.
func (c exportCommand) Run(p *program) error {
	st, g, closeAll, err := p.openGroup(c.Group)
	if err != nil {
		return err
	}
	defer closeAll()
	catalogue, err := st.Catalogue(p.ctx, g)
	if err != nil {
		return err
	}
	one, ok := catalogue.Series(c.Code)
	if !ok {
		return exit{2, fmt.Errorf("group %q has no series %q", c.Group, c.Code)}
	}
	text := seriesfile.Write(one)
	if c.Out == "" {
		_, err := p.out.Write(text)
		return err
	}
	return os.WriteFile(c.Out, text, 0o644)
}

package main

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"slices"

	"spareounce/match"
)

// poolCommand writes a group as a pool file.
type poolCommand struct {
	Group string `default:"room" help:"The chat's own id of the group."`
	Out   string `short:"o" placeholder:"FILE" help:"Where to write it; standard output by default."`
	Who   string `placeholder:"FILE" help:"Also write which id is which member, a line each: keep that file to yourself. What members offer or want quietly then stays out of the pool."`
}

// Run writes the pool, which names nobody, and apart from it who is who if that is asked for.
func (c poolCommand) Run(p *program) error {
	st, g, closeAll, err := p.openGroup(c.Group)
	if err != nil {
		return err
	}
	defer closeAll()
	pool, who, err := st.ExportPool(p.ctx, g.ID, c.Who == "")
	if err != nil {
		return err
	}
	var text bytes.Buffer
	if err := match.WritePool(&text, pool); err != nil {
		return err
	}
	if c.Who != "" {
		var names bytes.Buffer
		for _, id := range slices.Sorted(maps.Keys(who)) {
			fmt.Fprintf(&names, "%s\t%s\n", id, who[id])
		}
		if err := os.WriteFile(c.Who, names.Bytes(), 0o600); err != nil {
			return err
		}
	}
	if c.Out != "" {
		return os.WriteFile(c.Out, text.Bytes(), 0o644)
	}
	_, err = text.WriteTo(p.out)
	return err
}

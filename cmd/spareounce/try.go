package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"time"

	"spareounce/bot"
	"spareounce/bot/room"
	"spareounce/bot/seriesfile"
	"spareounce/bot/spot"
	"spareounce/bot/talk"
	"spareounce/store"
	"spareounce/testdata"
)

// roomGroup is the chat's id of the group whose room is on this machine.
const roomGroup = "room"

// grace is how long what has begun may take to finish when we stop.
const grace = 10 * time.Second

// tryCommand shows a trading group at work.
type tryCommand struct {
	Listen string `default:"127.0.0.1:8765" help:"Where the room is; only this machine can see it."`
	Empty  bool   `help:"Start without the demonstration group."`
}

// Run starts everything and stays until it is stopped.
func (c tryCommand) Run(p *program) error {
	door, err := room.Listen(c.Listen, false)
	if err != nil {
		return exit{2, err}
	}
	return p.serveRoom(door, !c.Empty)
}

// serveRoom runs the room, the bot and the queue until the program is stopped: then it stops hearing, finishes what it
// does, and closes the books, in this order.
func (p *program) serveRoom(door net.Listener, demo bool) error {
	defer door.Close()
	st, s, err := p.openStore()
	if err != nil {
		return err
	}
	defer s.close()
	defer st.Close()
	g, err := st.Group(p.ctx, roomGroup, "The table")
	if err != nil {
		return err
	}
	r := room.New(room.Config{Group: roomGroup, Zone: g.Location(), Now: time.Now, Log: p.log})
	b := p.bot(st, r)
	if demo {
		if err := p.demonstrate(st, b, g); err != nil {
			return fmt.Errorf("the demonstration: %w", err)
		}
	}
	work, stopWork := context.WithCancel(context.WithoutCancel(p.ctx))
	worked := make(chan error, 1)
	go func() { worked <- st.Work(work, b, 4, grace) }()
	fmt.Fprintf(p.out, "The room is open: http://%s\nStop it with Ctrl-C.\n", door.Addr())
	err = room.Serve(p.ctx, door, r.Handler(b))
	stopWork()
	return errors.Join(err, <-worked)
}

// bot makes the bot that speaks through a chat, with the price feeds that this operator allows and has keys for.
func (p *program) bot(st *store.Store, chat bot.Chat) *bot.Bot {
	b := bot.New(st, chat, time.Now, p.log)
	b.Ask(spot.NewFetcher(os.Getenv, p.commands.FeedInside))
	return b
}

// demonstrate gives an empty group our invented series and lets the members of the demonstration speak.
func (p *program) demonstrate(st *store.Store, b *bot.Bot, g store.Group) error {
	members, err := st.Members(p.ctx, g.ID)
	if err != nil || len(members) > 0 {
		return err // it has been given before
	}
	names, err := fs.Glob(testdata.Series, "series/*.toml")
	if err != nil {
		return err
	}
	for _, name := range names {
		text, err := testdata.Series.ReadFile(name)
		if err != nil {
			return err
		}
		one, remarks := seriesfile.Read(name, text)
		if seriesfile.Mistakes(remarks) {
			return fmt.Errorf("%v", remarks)
		}
		if err := st.SaveSeries(p.ctx, g.ID, one); err != nil {
			return err
		}
	}
	script, err := testdata.Story.Open("story/demonstration.talk")
	if err != nil {
		return err
	}
	defer script.Close()
	lines, err := talk.Parse(script)
	if err != nil {
		return err
	}
	talk.Recite(p.ctx, b, roomGroup, lines)
	return nil
}

package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"strings"
	"time"

	"spareounce/bot"
	"spareounce/bot/discord"
	"spareounce/bot/room"
)

// serveCommand runs for good: in Discord when there is a token for it, else in the local room.
type serveCommand struct {
	Listen    string `env:"SPAREOUNCE_LISTEN" default:"127.0.0.1:8765" help:"Where the room is."`
	Published bool   `env:"SPAREOUNCE_PUBLISHED" help:"Something in front lets in only this machine (a container's published port): listen on any address."`

	DiscordToken     string `env:"SPAREOUNCE_DISCORD_TOKEN" placeholder:"TOKEN" help:"The bot's token. Better in the environment or a file: others on this machine can read a command line."`
	DiscordTokenFile string `env:"SPAREOUNCE_DISCORD_TOKEN_FILE" placeholder:"FILE" help:"A file that holds the bot's token and nothing else."`
	DiscordAPI       string `env:"SPAREOUNCE_DISCORD_API" placeholder:"URL" help:"Where Discord's API is, when it is a stand-in's."`
	Shards           int    `env:"SPAREOUNCE_SHARDS" placeholder:"N" help:"How many shards there are in all; as many as Discord recommends by default."`
	Shard            []int  `env:"SPAREOUNCE_SHARD" placeholder:"ID" help:"Which of them this process may serve; any by default."`
}

// Run serves until it is stopped.
func (c serveCommand) Run(p *program) error {
	if c.DiscordToken != "" || c.DiscordTokenFile != "" {
		return c.serveDiscord(p)
	}
	door, err := room.Listen(c.Listen, c.Published)
	if err != nil {
		return exit{2, err}
	}
	if c.Published {
		fmt.Fprintln(p.err, "The room listens on every address because --published says that only this machine is let in. It has no locks.")
	}
	return p.serveRoom(door, false)
}

// configure reads and checks everything at once; wrong has a sentence for each thing to mend.
func (c serveCommand) configure(p *program) (config discord.Config, wrong []string) {
	config = discord.Config{
		Token: c.DiscordToken, API: cmp.Or(c.DiscordAPI, discord.DefaultAPI), Shards: c.Shards, Shard: c.Shard, Log: p.log,
	}
	unread := false
	switch {
	case c.DiscordToken != "" && c.DiscordTokenFile != "":
		wrong = append(wrong, "The token is given twice, by itself and in a file. Leave one of them away.")
	case c.DiscordTokenFile != "":
		text, err := os.ReadFile(c.DiscordTokenFile)
		if err != nil {
			unread = true
			wrong = append(wrong, fmt.Sprintf("The token's file can't be read: %v.", errors.Unwrap(err)))
		}
		config.Token = strings.TrimSpace(string(text))
	}
	if !unread {
		wrong = append(wrong, config.Check()...)
	}
	if given := p.commands.DatabaseURL; given != "" {
		if u, err := url.Parse(given); err != nil || u.Scheme != "postgres" && u.Scheme != "postgresql" {
			wrong = append(wrong, "--database-url should look like postgres://user@host/database.")
		}
	}
	return config, wrong
}

// serveDiscord runs the bot and the queue in Discord until the program is stopped, or going on would do harm.
func (c serveCommand) serveDiscord(p *program) error {
	config, wrong := c.configure(p)
	if len(wrong) > 0 {
		return exit{2, errors.New("this can't be served as it is set up:\n- " + strings.Join(wrong, "\n- "))}
	}
	st, s, err := p.openStore()
	if err != nil {
		return err
	}
	defer s.close()
	defer st.Close()
	chat := discord.New(config)
	b := bot.New(st, chat, time.Now, p.log)
	work, stopWork := context.WithCancel(context.WithoutCancel(p.ctx))
	worked := make(chan error, 1)
	go func() { worked <- st.Work(work, b, 4, grace) }()
	fmt.Fprintf(p.out, "Serving Discord. Invite the bot: %s\nStop it with Ctrl-C.\n", discord.InviteLink(config.Token))
	err = chat.Run(p.ctx, b)
	stopWork()
	if stop, ok := errors.AsType[*discord.StopError](err); ok {
		<-worked
		return exit{2, stop} // starting again as it is would do harm
	}
	return errors.Join(err, <-worked)
}

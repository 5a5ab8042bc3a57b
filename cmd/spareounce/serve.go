package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"strconv"
	"strings"
	"time"

	"spareounce/bot"
	"spareounce/bot/discord"
	"spareounce/bot/room"
	"spareounce/store"
)

// serveCommand runs for good: in Discord when there is a token for it, else in the local room.
type serveCommand struct {
	Listen    string `env:"SPAREOUNCE_LISTEN" default:"127.0.0.1:8765" help:"Where the room is."`
	Published bool   `env:"SPAREOUNCE_PUBLISHED" help:"Something in front lets in only this machine (a container's published port): listen on any address."`

	DiscordToken     string   `env:"SPAREOUNCE_DISCORD_TOKEN" placeholder:"TOKEN" help:"The bot's token. Better in the environment or a file: others on this machine can read a command line."`
	DiscordTokenFile string   `env:"SPAREOUNCE_DISCORD_TOKEN_FILE" placeholder:"FILE" help:"A file that holds the bot's token and nothing else."`
	DiscordAPI       string   `env:"SPAREOUNCE_DISCORD_API" placeholder:"URL" help:"Where Discord's API is, when it is a stand-in's."`
	Shards           string   `env:"SPAREOUNCE_SHARDS" placeholder:"N" help:"How many shards there are in all; as many as Discord recommends by default."`
	Shard            []string `env:"SPAREOUNCE_SHARD" placeholder:"ID,…" help:"Which of them this process may serve; any by default."`
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
		Token: c.DiscordToken, API: cmp.Or(c.DiscordAPI, discord.DefaultAPI), Log: p.log,
	}
	wrong = append(wrong, c.shards(&config)...)
	switch {
	case c.DiscordToken != "" && c.DiscordTokenFile != "":
		wrong = append(wrong, "The token is given twice, by itself and in a file. Leave one of them away.")
	case c.DiscordTokenFile != "":
		text, err := os.ReadFile(c.DiscordTokenFile)
		config.Token = strings.TrimSpace(string(text))
		if err != nil {
			wrong = append(wrong, fmt.Sprintf("The token's file can't be read: %v.", errors.Unwrap(err)))
		} else {
			wrong = append(wrong, config.CheckToken()...)
		}
	default:
		wrong = append(wrong, config.CheckToken()...)
	}
	wrong = append(wrong, config.Check()...)
	if given := p.commands.DatabaseURL; given != "" && !namesDatabase(given) {
		wrong = append(wrong, "--database-url should look like postgres://user@host/database.")
	}
	return config, wrong
}

func namesDatabase(given string) bool {
	u, err := url.Parse(given)
	return err == nil && (u.Scheme == "postgres" || u.Scheme == "postgresql")
}

// databaseTrouble is why the operator's database does not let us in, in a sentence; "" when it does.
func (p *program) databaseTrouble() string {
	if !namesDatabase(p.commands.DatabaseURL) {
		return ""
	}
	err := store.CheckDatabase(p.ctx, p.commands.DatabaseURL)
	if err == nil {
		return ""
	}
	return fmt.Sprintf("The database at --database-url does not let us in: %s. See that PostgreSQL runs there, and that this user may connect.",
		strings.Join(strings.Fields(err.Error()), " "))
}

// shards reads the numbers of shards. They are no numbers to the command line, so that one that is none is named beside all
// else that is wrong.
func (c serveCommand) shards(config *discord.Config) (wrong []string) {
	var err error
	if c.Shards != "" {
		if config.Shards, err = strconv.Atoi(c.Shards); err != nil {
			return []string{fmt.Sprintf("--shards %s is not a number. Leave it away to have as many as Discord recommends.", c.Shards)}
		}
	}
	for _, word := range strings.Fields(strings.Join(c.Shard, " ")) {
		shard, err := strconv.Atoi(word)
		if err != nil {
			wrong = append(wrong, fmt.Sprintf("--shard %s is not a number. They count from 0, with commas between: --shard 0,1.", word))
			continue
		}
		config.Shard = append(config.Shard, shard)
	}
	return wrong
}

// serveDiscord runs the bot and the queue in Discord until the program is stopped, or going on would do harm.
func (c serveCommand) serveDiscord(p *program) error {
	config, wrong := c.configure(p)
	trouble := p.databaseTrouble()
	switch {
	case len(wrong) > 0 && trouble != "":
		wrong = append(wrong, trouble)
		fallthrough
	case len(wrong) > 0:
		return exit{2, errors.New("this can't be served as it is set up:\n- " + strings.Join(wrong, "\n- "))}
	case trouble != "":
		return exit{1, errors.New(trouble)} // it may pass: who starts us may try again
	}
	config.Say = func(line string) { fmt.Fprintln(p.out, line) }
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
	fmt.Fprintln(p.out, "Serving Discord. Stop it with Ctrl-C.")
	err = chat.Run(p.ctx, b)
	stopWork()
	if stop, ok := errors.AsType[*discord.StopError](err); ok {
		<-worked
		return exit{2, stop} // starting again as it is would do harm
	}
	return errors.Join(err, <-worked)
}

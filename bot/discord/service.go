// Package discord is a chat: it brings what members say in Discord to the bot, and what the bot says to them. It is the
// only importer of discordgo.
//
// Callers may rely on this: no fault of the gateway stops it for longer than it lasts, and only those after which
// connecting again would do harm end Run, with a sentence for the operator; what the service sends again after a lost
// connection is heard, and a shard that goes to another session or process is heard by both before one lets go; an
// interaction that arrives alive is answered, once, by one of all the processes that share a database; no answer to one
// waits behind anything else; every request keeps to the service's limits; nobody is pinged by what somebody wrote, and
// nothing that somebody wrote becomes formatting; no token appears in a log, an error or a panic.
package discord

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"runtime/debug"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"spareounce/bot"
)

// Config is what an operator decides.
type Config struct {
	Token  string // the bot's token, without "Bot "
	API    string // where the service is; DefaultAPI unless a stand-in is meant
	Shards int    // how many there are in all; 0 for as many as the service recommends
	Shard  []int  // which of them this process may serve; empty for any
	Log    *slog.Logger
	Say    func(line string) // hears what an operator should read once; nil for nobody
}

// DefaultAPI is where Discord is.
const DefaultAPI = "https://discord.com/api/v10"

// notToken is what people paste for a token because the Developer Portal shows it more readily: an id, a public key of 64
// hexadecimal digits, a client secret of 32 characters (from memory). Whether a token is one, only the service can say.
var notToken = regexp.MustCompile(`^([0-9]+|[0-9a-fA-F]{64}|[0-9A-Za-z_-]{32})$`)

// CheckToken finds what is wrong with the token as far as it can be seen, in a sentence.
func (c Config) CheckToken() (wrong []string) {
	switch {
	case c.Token == "":
		wrong = append(wrong, "There is no token. Put the bot's token into SPAREOUNCE_DISCORD_TOKEN, or its file's name into --discord-token-file.")
	case strings.ContainsAny(c.Token, " \t\r\n"):
		wrong = append(wrong, "The token has a space or a line break in it. Copy it again from the Developer Portal, without \"Bot\" before it.")
	case notToken.MatchString(c.Token):
		wrong = append(wrong, "The token is something else: it looks like the application's id, its public key or its client secret. The token has dots in it and is under Bot in the Developer Portal, behind Reset Token.")
	}
	return wrong
}

// Check finds everything else that is wrong with a configuration, a sentence each.
func (c Config) Check() (wrong []string) {
	if u, err := url.Parse(c.API); err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" {
		wrong = append(wrong, "--discord-api is not an address. Leave it away to use Discord itself.")
	} else if u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		wrong = append(wrong, "--discord-api must be an address without a name, a password or a question in it, such as http://127.0.0.1:9000/api/v10.")
	} else if u.Scheme == "http" && !isLocal(u.Hostname()) {
		wrong = append(wrong, "--discord-api would send the token over http in the clear. Only an address on this machine may do so.")
	}
	switch proxy, err := http.ProxyFromEnvironment(&http.Request{URL: &url.URL{Scheme: "https", Host: "discord.com"}}); {
	case err != nil:
		wrong = append(wrong, "HTTPS_PROXY is not the address of a proxy. It looks like http://127.0.0.1:3128.")
	case proxy != nil && wrongProxy(proxy) != "":
		wrong = append(wrong, wrongProxy(proxy))
	}
	if c.Shards < 0 {
		wrong = append(wrong, "--shards can't be negative. Leave it away to have as many as Discord recommends.")
	}
	for _, shard := range c.Shard {
		if c.Shards < 1 {
			wrong = append(wrong, "--shard says which shards to serve, so --shards must say how many there are.")
			break
		}
		if shard < 0 || shard >= c.Shards {
			wrong = append(wrong, fmt.Sprintf("--shard %d does not exist: with --shards %d they count from 0 to %d.", shard, c.Shards, c.Shards-1))
		}
	}
	return wrong
}

func isLocal(host string) bool { return host == "localhost" || net.ParseIP(host).IsLoopback() }

// apiOf is where the API is: at an address that names a server only, where Discord has it.
func apiOf(address string) string {
	address = strings.TrimRight(address, "/")
	if u, err := url.Parse(address); err == nil && u.Path == "" {
		return address + "/api/v10"
	}
	return address
}

// Service is the chat. Make it with New, give it to bot.New, then Run it with that bot.
type Service struct {
	config Config
	log    *slog.Logger
	door   *door
	name   string // of this process among those that share a database
	timing timing

	greet    sync.Once
	joined   sync.Once
	begun    chan struct{} // closed when bot, seal and app may be used
	bot      *bot.Bot
	seal     seal
	app      string // the application's id
	me       string // its account's, which differs for old ones
	guilds   guildBook
	direct   recent[string, string]                 // the private channel with an account
	present  recent[string, presence]               // whether an account is still in a guild
	barred   recent[string, bool]                   // channels in which a thread was refused
	unlocked recent[string, bool]                   // guilds in which we may not lock threads
	about    locks                                  // one at a time changes what shows a thing
	work     underway                               // interactions being answered, and what is done beside
	serving  atomic.Int64                           // shards
	closing  context.CancelCauseFunc                // ends what answers interactions
	living   context.Context                        // ends with closing
	stats    func(kind, id string, d time.Duration) // of tests; nil when nobody counts
	quietly  chan struct{}                          // held by what can wait, so that answers need not
}

// New makes a chat of a configuration that Check finds nothing wrong with. It connects to nothing.
func New(c Config) *Service {
	host, _ := os.Hostname()
	s := &Service{config: c, log: c.Log, name: host + " " + strings.ToLower(rand.Text()[:8]), timing: usualTiming, begun: make(chan struct{}), quietly: make(chan struct{}, 2)}
	transport := http.DefaultTransport.(*http.Transport).Clone() // with the environment's proxy
	transport.MaxIdleConnsPerHost = 64
	s.door = &door{api: apiOf(c.API), token: c.Token, client: &http.Client{Transport: transport}, limits: newLimiter(time.Now), within: usualWithin, log: c.Log}
	s.living, s.closing = context.WithCancelCause(context.Background())
	return s
}

// say tells the operator something, once it is so.
func (s *Service) say(line string) {
	if s.config.Say != nil {
		s.config.Say(line)
	}
}

var errStopping = errors.New("the program is being stopped")

// Run serves until ctx ends, or until going on would do harm: then it returns a sentence for the operator. It may be
// called once.
func (s *Service) Run(ctx context.Context, b *bot.Bot) error {
	s.bot = b
	key, err := b.Secret(ctx, "discord buttons")
	if err != nil {
		return err
	}
	s.seal = newSeal(key)
	if err := s.introduce(ctx); err != nil || ctx.Err() != nil {
		return err
	}
	close(s.begun)
	err = s.shardsRun(ctx)
	s.finish()
	return err
}

// introduce finds out who we are, and tells the service our commands if they have changed. It tries until it succeeds or
// the token is refused.
func (s *Service) introduce(ctx context.Context) error {
	for failures := 1; ; failures++ {
		err := s.whoWeAre(ctx)
		if err == nil {
			s.greet.Do(func() { s.say("Invite the bot: " + inviteLink(s.app)) })
			if err = s.register(ctx); err != nil && failures >= patientTries {
				s.log.WarnContext(ctx, "members go on with the commands that the service knows", "err", err)
				s.spawn("the commands", s.keepRegistering)
				return nil
			}
		}
		switch {
		case err == nil, ctx.Err() != nil:
			return nil
		case s.door.denied.Load():
			return &StopError{4004, fatal[4004]}
		}
		wait := backoff(s.timing, failures)
		s.log.WarnContext(ctx, "the service can't be told who we are", "err", err, "again in", wait)
		_ = sleep(ctx, wait, nil)
	}
}

// patientTries is how often we try to tell our commands before we go on without: most of the time the service knows them.
const patientTries = 3

// keepRegistering tells our commands as soon as the service will hear them.
func (s *Service) keepRegistering() {
	for failures := patientTries; ; failures++ {
		if sleep(s.living, backoff(s.timing, failures), nil) != nil || s.register(s.living) == nil {
			return
		}
	}
}

// whoWeAre asks for the ids of the application and of its account. Where the service does not know that question, the token
// answers it: it begins with the account's, which is the application's too for all but old ones.
func (s *Service) whoWeAre(ctx context.Context) error {
	var app struct {
		ID  string `json:"id"`
		Bot user   `json:"bot"`
	}
	err := s.door.do(ctx, call{method: http.MethodGet, path: []string{"applications", "@me"}, route: "/applications/@me", again: true}, &app)
	account := applicationIn(s.config.Token)
	if r, ok := errors.AsType[*refusal](err); ok && (r.status == http.StatusNotFound || r.status == http.StatusMethodNotAllowed) {
		app.ID, err = account, nil
	}
	if err == nil && app.ID == "" {
		err = errors.New("the service does not say which application we are")
	}
	s.app, s.me = app.ID, cmp.Or(app.Bot.ID, account, app.ID)
	return err
}

// finish waits for answers that have been begun, not for long: what they answer is dead after a few seconds anyway.
func (s *Service) finish() {
	select {
	case <-s.work.none():
	case <-time.After(5 * time.Second):
	}
	s.closing(errStopping)
	<-s.work.none()
	s.door.client.CloseIdleConnections()
}

// ready waits until Run has begun.
func (s *Service) ready(ctx context.Context) error {
	select {
	case <-s.begun:
		return nil
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

// mend keeps a panic in one place from stopping everything. Its words are not logged whole: they may hold what a member
// wrote, or a token.
func (s *Service) mend(where string) {
	if broken := recover(); broken != nil {
		s.log.Error("a fault of ours", "in", where, "kind", fmt.Sprintf("%T", broken), "what", s.door.redact(fmt.Sprint(broken)), "stack", s.door.redact(string(debug.Stack())))
	}
}

// redact takes our token out of a text.
func (d *door) redact(text string) string {
	if d.token == "" {
		return text
	}
	return strings.ReplaceAll(text, d.token, "(token)")
}

// spawn does something beside all else, and is waited for when we stop.
func (s *Service) spawn(what string, do func()) {
	s.work.begin()
	go func() {
		defer s.work.end()
		defer s.mend(what)
		do()
	}()
}

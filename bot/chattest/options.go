package chattest

import "time"

// An Option changes how a Server behaves.
type Option func(*settings)

type settings struct {
	now         func() time.Time
	lenient     bool
	strict      bool
	handWritten bool
	heartbeat   time.Duration
	patience    time.Duration
	acknowledge time.Duration
	privileged  Intents
	identifies  int
	concurrency int
	shards      int
	perShard    int
	keep        int
	threads     int
	speed       float64
	nonces      time.Duration
	watch       func(Sighting)
}

func defaults() settings {
	return settings{
		now: time.Now, heartbeat: 41250 * time.Millisecond, patience: 10 * time.Second, acknowledge: 3 * time.Second,
		identifies: 1000, concurrency: 1, shards: 1, perShard: 2500, keep: 10_000, threads: 1000, speed: 1, nonces: nonceMemory,
	}
}

// WithClock makes the server read the time from now: ids, expiry of interactions and attachments, and rate limits. Waiting
// for the bot (Patience) and heartbeats stay in real time.
func WithClock(now func() time.Time) Option { return func(s *settings) { s.now = now } }

// WithSpeed makes the service live so many times as fast as we do: its clock, the heartbeats that it asks for, the time
// between two IDENTIFYs and the life of a session. Members keep their pace: Patience is in real time.
func WithSpeed(times float64) Option {
	return func(s *settings) {
		begin := time.Now()
		s.speed = times
		s.now = func() time.Time { return begin.Add(time.Duration(float64(time.Since(begin)) * times)) }
		s.heartbeat = s.real(s.heartbeat)
	}
}

// real is how long a while of the service's lasts for us.
func (s *settings) real(d time.Duration) time.Duration { return time.Duration(float64(d) / s.speed) }

// Acknowledge sets for how long, by the service's clock, an interaction waits for an answer; Discord's wait 3 s. It is for
// machines that do much else, and for clocks that run faster than the bot can.
func Acknowledge(d time.Duration) Option { return func(s *settings) { s.acknowledge = d } }

// NonceMemory sets for how long, by the service's clock, it knows a nonce again: three minutes unless told.
func NonceMemory(d time.Duration) Option { return func(s *settings) { s.nonces = d } }

// Watch has all that appears, changes and goes told to see, in order, also what is forgotten soon after. see must not
// use the server.
func Watch(see func(Sighting)) Option { return func(s *settings) { s.watch = see } }

// Lenient keeps the test from failing over problems; Problems still lists them. It is for tests that provoke refusals.
func Lenient() Option { return func(s *settings) { s.lenient = true } }

// HandWritten leaves the published description aside and checks by the hand-written rules alone.
func HandWritten() Option { return func(s *settings) { s.handWritten = true } }

// Strict enforces rate limits: per-route buckets, 50 requests a second over all, one IDENTIFY in five seconds a shard, and
// the block of an address after 10,000 invalid requests in ten minutes.
func Strict() Option { return func(s *settings) { s.strict = true } }

// WithHeartbeat sets the heartbeat interval told in HELLO; Discord's is 41.25 s.
func WithHeartbeat(d time.Duration) Option { return func(s *settings) { s.heartbeat = d } }

// Patience sets for how long members wait for the bot before the test fails; 10 s of real time unless told.
func Patience(d time.Duration) Option { return func(s *settings) { s.patience = d } }

// WithPrivileged switches on privileged intents, which are off as in a new application: identifying with one that is off
// ends with close code 4014.
func WithPrivileged(i Intents) Option { return func(s *settings) { s.privileged = i } }

// WithIdentifyBudget sets how many IDENTIFYs a day are left of 1000 before Discord resets the token, and the shards that
// may identify at once.
func WithIdentifyBudget(remaining, concurrency int) Option {
	return func(s *settings) { s.identifies, s.concurrency = remaining, concurrency }
}

// WithShards sets the recommended count of shards and how many guilds one shard may hold (2,500 in Discord).
func WithShards(recommended, perShard int) Option {
	return func(s *settings) { s.shards, s.perShard = recommended, perShard }
}

// Keep sets how many messages of one channel (and twenty times as many in all), interactions, requests and sightings are
// remembered; the oldest are forgotten first. It bounds the server's memory in long tests; 10,000 unless told.
func Keep(n int) Option { return func(s *settings) { s.keep = n } }

// WithThreads sets how many threads may be active in a guild. A thousand is from memory; the documentation says only that
// there is a limit.
func WithThreads(most int) Option { return func(s *settings) { s.threads = most } }

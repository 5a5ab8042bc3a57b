package store

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivertype"
	"github.com/robfig/cron/v3"
)

// Duties is what the store needs done outside itself.
type Duties interface {
	// Tell says notices to a member, all in one message. After an error or a crash it will be asked again, for the same
	// notices under the same Message, even though they may have been said.
	Tell(ctx context.Context, g Group, m Member, notices []Notice) error
	// PostWeek says a weekly post to the group. After an error or a crash it will be asked again for the same week.
	PostWeek(ctx context.Context, w Week) error
	// Share shows an agreed trade, and what becomes of it, to its parties together, where the chat has places for that.
	// After an error or a crash it will be asked again; of one trade by one process at a time.
	Share(ctx context.Context, g Group, t Trade) error
	// Read asks a source for its price; last is the last good one in its currency, nil when there is none. That there was
	// no good price is no error but a Reading that says why.
	Read(ctx context.Context, g Group, rules PriceRules, src Source, last *Spot) (Reading, error)
}

// RematchArgs is the job of looking for trades that a member's change has opened.
type RematchArgs struct {
	Member int64   `json:"member"`
	Opened *opened `json:"opened,omitempty"` // nil: anything may have
}

// Kind names the job in the queue.
func (RematchArgs) Kind() string { return "rematch" }

// TellArgs is the job of telling a member what is due.
type TellArgs struct {
	Member int64 `json:"member"`
}

// Kind names the job in the queue.
func (TellArgs) Kind() string { return "tell" }

// LapseArgs is the job of telling a trade the time: a proposal's may have run out, something may be due of an agreed one.
type LapseArgs struct {
	Trade int64 `json:"trade"`
}

// Kind names the job in the queue.
func (LapseArgs) Kind() string { return "lapse" }

// ShareArgs is the job of showing an agreed trade to its parties together.
type ShareArgs struct {
	Trade int64 `json:"trade"`
}

// Kind names the job in the queue.
func (ShareArgs) Kind() string { return "share" }

func (s *Store) enqueuer() (*river.Client[pgx.Tx], error) {
	return river.NewClient(riverpgxv5.New(s.pool), &river.Config{Logger: quiet(s.log)})
}

// Work does what the queue holds until ctx is done, then finishes what it has begun, for at most grace. Workers says how
// many jobs may run at once; one makes their order the order in which they were enqueued. Any number of processes may
// work on one database.
func (s *Store) Work(ctx context.Context, d Duties, workers int, grace time.Duration) error {
	handlers := river.NewWorkers()
	river.AddWorker(handlers, river.WorkFunc(func(ctx context.Context, j *river.Job[RematchArgs]) error {
		return s.rematch(ctx, j.Args)
	}))
	river.AddWorker(handlers, river.WorkFunc(func(ctx context.Context, j *river.Job[TellArgs]) error {
		return s.tellDue(ctx, d, j.Args.Member)
	}))
	river.AddWorker(handlers, river.WorkFunc(func(ctx context.Context, j *river.Job[LapseArgs]) error {
		return s.lapse(ctx, j.Args.Trade)
	}))
	river.AddWorker(handlers, river.WorkFunc(func(ctx context.Context, j *river.Job[ReadArgs]) error {
		return s.readSources(ctx, d, j.Args.Group)
	}))
	river.AddWorker(handlers, river.WorkFunc(func(ctx context.Context, j *river.Job[PostArgs]) error {
		return s.postWeekly(ctx, d, j.Args.Group)
	}))
	river.AddWorker(handlers, river.WorkFunc(func(ctx context.Context, j *river.Job[RoundArgs]) error {
		return s.clearRound(ctx, j.Args.Round)
	}))
	river.AddWorker(handlers, river.WorkFunc(func(ctx context.Context, j *river.Job[ShareArgs]) error {
		return s.share(ctx, d, j.Args.Trade)
	}))
	client, err := river.NewClient(riverpgxv5.New(s.pool), &river.Config{
		Queues:               map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: workers}},
		Workers:              handlers,
		FetchCooldown:        5 * time.Millisecond,
		FetchPollInterval:    time.Second,
		JobTimeout:           time.Minute,
		RescueStuckJobsAfter: 2 * time.Minute, // the default is an hour: too long to leave a member waiting
		SoftStopTimeout:      grace,           // else cancelling ctx would cancel running jobs
		Logger:               quiet(s.log),
	})
	if err != nil {
		return fmt.Errorf("work: %w", err)
	}
	if err := client.Start(ctx); ctx.Err() != nil && err != nil {
		return nil // stopped before it had begun
	} else if err != nil {
		return fmt.Errorf("work: %w", err)
	}
	clock := cron.New(cron.WithSeconds(), cron.WithLocation(time.UTC))
	if _, err := clock.AddFunc("*/10 * * * * *", func() {
		if err := s.Tick(ctx); err != nil && ctx.Err() == nil {
			s.log.ErrorContext(ctx, "the clock could not be served", "err", err)
		}
	}); err != nil {
		return fmt.Errorf("work: %w", err)
	}
	clock.Start()
	<-ctx.Done()
	<-clock.Stop().Done()
	<-client.Stopped()
	return nil
}

// unfinished are the states of a job that will still be done.
var unfinished = []rivertype.JobState{
	rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable, rivertype.JobStateRunning, rivertype.JobStateScheduled,
}

// Tick enqueues what has come due by the clock, what has waited longest first: trades to be told the time, members to tell,
// sources to ask, weekly posts to make, rounds to clear, groups to forget. Every process may call it at any time; what is
// enqueued twice is harmless.
func (s *Store) Tick(ctx context.Context) error {
	if _, err := s.pool.Exec(ctx, `DELETE FROM receipts WHERE at < $1`, s.now().Add(-time.Hour)); err != nil {
		return fmt.Errorf("clear old receipts away: %w", err)
	}
	return s.inTx(ctx, "see what is due", func(tx pgx.Tx) error {
		rows, _ := tx.Query(ctx, `
			SELECT trade_id FROM trades JOIN groups USING (group_id)
			WHERE state IN ('proposed', 'agreed') AND deadline <= $1 AND gone_at IS NULL ORDER BY deadline, trade_id`, s.now())
		late, err := pgx.CollectRows(rows, pgx.RowTo[int64])
		if err != nil {
			return err
		}
		if err := s.serveClock(ctx, tx, late); err != nil {
			return err
		}
		once := &river.InsertOpts{UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: unfinished}}
		for _, id := range late {
			if _, err := s.jobs.InsertTx(ctx, tx, LapseArgs{Trade: id}, once); err != nil {
				return err
			}
		}
		rows, _ = tx.Query(ctx, `
			SELECT DISTINCT member_id FROM notices JOIN members USING (member_id) JOIN groups USING (group_id)
			WHERE told_at IS NULL AND due_at <= $1 AND gone_at IS NULL
				AND (due_at > born_at OR born_at < $1 - interval '1 minute') -- else its own job, born with it, has not run yet
			ORDER BY member_id`, s.now())
		waiting, err := pgx.CollectRows(rows, pgx.RowTo[int64])
		if err != nil {
			return err
		}
		for _, id := range waiting {
			if _, err := s.jobs.InsertTx(ctx, tx, TellArgs{Member: id}, once); err != nil {
				return err
			}
		}
		if err := s.tickPrices(ctx, tx, once); err != nil {
			return err
		}
		if err := s.tickRounds(ctx, tx, once); err != nil {
			return err
		}
		if err := s.forgetGone(ctx, tx); err != nil {
			return err
		}
		return s.tidyChat(ctx, tx)
	})
}

// tickPrices enqueues the groups that have a source to ask or a weekly post to make.
func (s *Store) tickPrices(ctx context.Context, tx pgx.Tx, once *river.InsertOpts) error {
	if err := s.weeklyDue(ctx, tx); err != nil {
		return err
	}
	for _, due := range []struct {
		query string
		job   func(group int64) river.JobArgs
	}{
		{`SELECT DISTINCT group_id FROM spot_sources JOIN groups USING (group_id) WHERE ask_at <= $1 AND gone_at IS NULL ORDER BY group_id`,
			func(group int64) river.JobArgs { return ReadArgs{group} }},
		{`SELECT DISTINCT group_id FROM weekly_posts JOIN groups USING (group_id)
			WHERE try_at <= $1 AND posted_at IS NULL AND NOT passed AND gone_at IS NULL ORDER BY group_id`,
			func(group int64) river.JobArgs { return PostArgs{group} }},
	} {
		rows, _ := tx.Query(ctx, due.query, s.now())
		groups, err := pgx.CollectRows(rows, pgx.RowTo[int64])
		if err != nil {
			return err
		}
		for _, group := range groups {
			if _, err := s.jobs.InsertTx(ctx, tx, due.job(group), once); err != nil {
				return err
			}
		}
	}
	return nil
}

// Idle reports whether the queue holds nothing to do now. A transcript waits for it after every line.
func (s *Store) Idle(ctx context.Context) (bool, error) {
	var busy bool
	err := s.pool.QueryRow(ctx, `
		SELECT EXISTS (SELECT 1 FROM river_job WHERE state IN ('available', 'running', 'retryable', 'pending'))`).Scan(&busy)
	return !busy, err
}

// tellDue says what is due to a member. One job at a time speaks to a member, so that two do not say the same.
func (s *Store) tellDue(ctx context.Context, d Duties, member int64) error {
	m, g, err := s.memberAndGroup(ctx, member)
	if err != nil || g.Gone != nil {
		return err
	}
	return pgx.BeginFunc(ctx, s.pool, func(lock pgx.Tx) error {
		if _, err := lock.Exec(ctx, `SELECT pg_advisory_xact_lock($1)`, member); err != nil {
			return err
		}
		messages, err := s.due(ctx, member)
		if err != nil {
			return err
		}
		for _, together := range messages {
			if err := s.sayOnce(ctx, d, g, m, together); err != nil {
				return err
			}
		}
		return nil
	})
}

// sayOnce has a message said and records it. Between the two a crash may come: then the same message is said again, under
// the same name, and it is for the chat to drop it.
func (s *Store) sayOnce(ctx context.Context, d Duties, g Group, m Member, notices []Notice) error {
	if err := d.Tell(ctx, g, m, notices); err != nil {
		return err
	}
	return s.told(ctx, notices)
}

func (s *Store) memberAndGroup(ctx context.Context, member int64) (m Member, g Group, err error) {
	err = s.inSnapshot(ctx, "find the member", func(tx pgx.Tx) error {
		if m, err = memberByID(ctx, tx, member); err != nil {
			return err
		}
		g, err = groupByID(ctx, tx, m.Group)
		return err
	})
	return m, g, err
}

// quiet lets through only what the queue warns of: it is chatty about its own life, and logs a stop as an error.
func quiet(log *slog.Logger) *slog.Logger { return slog.New(warnings{log.Handler()}) }

type warnings struct{ slog.Handler }

func (w warnings) Enabled(ctx context.Context, level slog.Level) bool {
	return level >= slog.LevelWarn && w.Handler.Enabled(ctx, level) && !errors.Is(context.Cause(ctx), context.Canceled)
}

func (w warnings) WithAttrs(attrs []slog.Attr) slog.Handler {
	return warnings{w.Handler.WithAttrs(attrs)}
}
func (w warnings) WithGroup(name string) slog.Handler { return warnings{w.Handler.WithGroup(name)} }

package bot

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"spareounce/match/melt"
	"spareounce/store"
)

// round says when the next round is, and has the speaker take part or not: "round", "round in", "round out". A keeper holds
// it: "round friday 18:00", "round now", "round off", "round every 0 18 * * 5"; with "together" its trades are agreed all or
// none, with "each" every one on its own.
func (b *Bot) round(ctx context.Context, t turn) (Reply, error) {
	words, together := t.roundWords()
	switch strings.ToLower(words) {
	case "":
		return b.roundNow(ctx, t)
	case "in", "out":
		return b.joinRound(ctx, t, strings.EqualFold(words, "in"))
	}
	if !t.speaker.Keeper {
		return Reply{}, sentence(t.Say(keepersOnly, "verb", t.command("round")+" "+words))
	}
	first, rest, _ := strings.Cut(words, " ")
	switch strings.ToLower(first) {
	case "now":
		if err := b.store.ClearNow(ctx, t.speaker); err != nil {
			return Reply{}, roundError(t.voice, err)
		}
		return Reply{Text: t.Say(roundClearing)}, nil
	case "off":
		if err := b.store.CallOffRound(ctx, t.group.ID); err != nil {
			return Reply{}, roundError(t.voice, err)
		}
		return Reply{Text: t.Say(roundOff)}, nil
	case "every":
		return b.roundEvery(ctx, t, rest, together)
	}
	at, ok := readWhen(words, b.now(), t.group.Location())
	if !ok {
		return Reply{}, sentence(t.Say(roundHow, "word", words))
	}
	r, err := b.store.OpenRound(ctx, t.speaker, at, together)
	if err != nil {
		return Reply{}, err
	}
	return b.roundReply(t, roundOpen, r), nil
}

// roundWords are the words of a line without the one that says how its trades are agreed.
func (t turn) roundWords() (words string, together bool) {
	all := strings.Fields(t.rest)
	for i, word := range all {
		if together = strings.EqualFold(word, "together"); together || strings.EqualFold(word, "each") {
			return strings.Join(slices.Delete(all, i, i+1), " "), together
		}
	}
	return strings.Join(all, " "), false
}

func (b *Bot) roundNow(ctx context.Context, t turn) (Reply, error) {
	r, err := b.store.Round(ctx, t.group.ID)
	if err != nil {
		return Reply{}, roundError(t.voice, err)
	}
	said := roundIs
	if slices.Contains(r.Members, t.speaker.ID) {
		said = roundIsIn
	}
	return b.roundReply(t, said, r), nil
}

func (b *Bot) joinRound(ctx context.Context, t turn, in bool) (Reply, error) {
	r, err := b.store.JoinRound(ctx, t.speaker, in)
	if err != nil {
		return Reply{}, roundError(t.voice, err)
	}
	if !in {
		return Reply{Text: t.Say(roundLeft, "name", t.speaker.Name, "n", len(r.Members))}, nil
	}
	return Reply{Text: t.Say(roundJoined, "name", t.speaker.Name, "n", len(r.Members), "at", t.when(t.group, r.ClearsAt))}, nil
}

// roundEvery has rounds held by a schedule: five fields of cron, on the group's clock.
func (b *Bot) roundEvery(ctx context.Context, t turn, spec string, together bool) (Reply, error) {
	if strings.EqualFold(spec, "off") || spec == "" {
		if _, err := b.store.ScheduleRounds(ctx, t.group, "", false); err != nil {
			return Reply{}, err
		}
		return Reply{Text: t.Say(roundEveryOff)}, nil
	}
	one, err := b.store.ScheduleRounds(ctx, t.group, spec, together)
	if err != nil {
		return Reply{}, roundError(t.voice, err)
	}
	return Reply{Text: t.Say(roundEverySet, "spec", one.Spec, "at", t.when(t.group, one.Next), "zone", t.group.Zone, "how", howAgreed(t.voice, one.Together))}, nil
}

// roundReply says when a round is, how its trades are agreed and how many are in it, with buttons to take part or not.
func (b *Bot) roundReply(t turn, said phrase, r store.Round) Reply {
	text := t.Say(said, "at", t.when(t.group, r.ClearsAt), "zone", t.group.Zone, "n", len(r.Members), "how", howAgreed(t.voice, r.Together))
	button := Button{Label: t.Say(pressIn), Says: "round in"}
	if said == roundIsIn {
		button = Button{Label: t.Say(pressOut), Says: "round out"}
	}
	return Reply{Text: text, Buttons: []Button{button}}
}

func howAgreed(in voice, together bool) string {
	if together {
		return in.Say(roundTogether)
	}
	return in.Say(roundEach)
}

func roundError(in voice, err error) error {
	switch {
	case errors.Is(err, store.ErrNoRound):
		return sentence(in.Say(roundNone))
	case errors.Is(err, store.ErrSchedule):
		return sentence(in.Say(roundEveryHow))
	}
	return err
}

// roundWords says what a round has come to: to who held it in figures, to a member for whom it found nothing in short.
func (b *Bot) tellRound(ctx context.Context, in voice, g store.Group, n store.Notice) (Reply, error) {
	r, err := b.store.RoundByID(ctx, n.Body.Round)
	if err != nil {
		return Reply{}, err
	}
	if n.Kind == store.RoundNothing {
		return Reply{Text: in.Say(roundNothing)}, nil
	}
	if r.Result == nil {
		return Reply{}, fmt.Errorf("round %d is told of before it was cleared", r.ID)
	}
	return Reply{Text: resultWords(in, *r.Result)}, nil
}

func resultWords(in voice, r store.RoundResult) string {
	if r.Trades == 0 && r.Left == 0 {
		return in.Say(roundEmpty, "n", r.Members)
	}
	lines := []string{in.Say(roundCleared, "n", r.Members, "trades", r.Trades, "pieces", r.Pieces)}
	if r.Left > 0 {
		lines = append(lines, in.Say(roundHeldBack, "n", r.Left))
	}
	money := func(a melt.Minor) string {
		if r.Currency == nil {
			return in.fine(a)
		}
		return r.Currency.Format(a)
	}
	rate := roundRate
	if r.Answers < fewAnswers {
		rate = roundRateUnknown
	}
	lines = append(lines, in.Say(roundWorth, "gain", money(r.Gain)),
		in.Say(rate, "percent", hundredths(r.Acceptance), "expected", money(r.Expected)))
	if r.Optimal {
		lines = append(lines, in.Say(roundProved))
	} else {
		lines = append(lines, in.Say(roundBound, "bound", money(r.Bound)))
	}
	return strings.Join(lines, "\n")
}

// readWhen reads a time to come on a zone's clock: "3 days", "in 36 hours", "friday 18:00", "18:00", "6 Mar 18:00",
// "2026-03-06 18:00".
func readWhen(text string, now time.Time, zone *time.Location) (time.Time, bool) {
	words := strings.Fields(strings.ToLower(text))
	if len(words) > 0 && (words[0] == "in" || words[0] == "on" || words[0] == "at") {
		words = words[1:]
	}
	if len(words) == 0 {
		return time.Time{}, false
	}
	if n, err := strconv.Atoi(words[0]); err == nil && len(words) == 2 && n > 0 && n <= 10_000 {
		unit, ok := map[string]time.Duration{"minute": time.Minute, "hour": time.Hour, "day": 24 * time.Hour, "week": 7 * 24 * time.Hour}[strings.TrimSuffix(words[1], "s")]
		return now.Add(time.Duration(n) * unit), ok && time.Duration(n)*unit <= farthestRound
	}
	local := now.In(zone)
	if clock, ok := readClock(words[len(words)-1]); ok && len(words) <= 2 {
		for day := range 8 {
			at := time.Date(local.Year(), local.Month(), local.Day()+day, int(clock)/60, int(clock)%60, 0, 0, zone)
			named := len(words) == 1 || len(words[0]) >= 3 && strings.HasPrefix(strings.ToLower(at.Weekday().String()), words[0])
			if named && at.After(now) {
				return at, true
			}
		}
	}
	for _, layout := range []string{"2 jan 15:04", "2 jan 2006 15:04", "2006-01-02 15:04"} {
		at, err := time.ParseInLocation(layout, strings.Join(words, " "), zone)
		if err != nil {
			continue
		}
		if at.Year() == 0 {
			at = time.Date(local.Year(), at.Month(), at.Day(), at.Hour(), at.Minute(), 0, 0, zone)
			if !at.After(now) {
				at = at.AddDate(1, 0, 0)
			}
		}
		return at, at.After(now) && at.Sub(now) <= farthestRound
	}
	return time.Time{}, false
}

// farthestRound is how far ahead a round can be set.
const farthestRound = 366 * 24 * time.Hour

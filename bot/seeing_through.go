package bot

import (
	"context"
	"strings"
	"unicode"
	"unicode/utf8"

	"spareounce/match"
	"spareounce/match/trade"
)

// sent says that what the speaker gives is on its way: "sent 12", "sent 12 by Northpost AB 123", "sent 12 anyway".
func (b *Bot) sent(ctx context.Context, t turn) (Reply, error) {
	n, words, err := t.numberAnd()
	if err != nil {
		return Reply{}, err
	}
	anyway := strings.EqualFold(words, "anyway")
	if rest, ok := cutWord(words, "anyway"); ok {
		anyway, words = true, rest
	}
	tracking := words
	for _, by := range []string{"by", "with", "tracking"} {
		if rest, ok := cutWord(words, by); ok {
			tracking = rest
		}
	}
	if tracking = strings.Join(strings.Fields(tracking), " "); !followable(tracking) {
		return Reply{}, pointed{max(strings.Index(t.rest, words), 0), words, t.Say(trackingHow)}
	}
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	e := trade.Ship{By: t.speaker.Identity(), Anyway: anyway, At: b.now()}
	one, err := b.store.SendTrade(ctx, t.speaker, n, e, tracking)
	v := b.view(t, one, names)
	if err != nil {
		return Reply{}, refuseTrade(err, n, v)
	}
	reply := v.after(e)
	reply.About = v.about()
	return reply, nil
}

// followable reports whether a text can be the name of a carrier and the number of a parcel: nothing that a chat or a page
// could take for anything but text.
func followable(text string) bool {
	if len([]rune(text)) > 60 {
		return false
	}
	for _, r := range text {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune(" -./#", r) {
			return false
		}
	}
	return true
}

// arrived says that what the speaker gets has come, and is to be checked.
func (b *Bot) arrived(ctx context.Context, t turn) (Reply, error) {
	return b.moveSaid(ctx, t, trade.Arrive{By: t.speaker.Identity(), At: b.now()})
}

// checked says that the speaker accepts what they got.
func (b *Bot) checked(ctx context.Context, t turn) (Reply, error) {
	return b.moveSaid(ctx, t, trade.Receive{By: t.speaker.Identity(), At: b.now()})
}

// passedOn says that who stands in the middle has sent everything on.
func (b *Bot) passedOn(ctx context.Context, t turn) (Reply, error) {
	return b.moveSaid(ctx, t, trade.PassOn{By: t.speaker.Identity(), At: b.now()})
}

// problems that can be said, in the words that can be typed.
var problemWords = []struct {
	says    phrase
	problem trade.Problem
}{{problemMissing, trade.NotArrived}, {problemOther, trade.NotAsDescribed}, {problemWrong, trade.WrongPiece}}

// problem says that something is wrong with what the speaker gets; without a word of what, it asks.
func (b *Bot) problem(ctx context.Context, t turn) (Reply, error) {
	n, words, err := t.numberAnd()
	if err != nil {
		return Reply{}, err
	}
	if words == "" {
		if _, err := b.viewNumber(ctx, t, n); err != nil {
			return Reply{}, err
		}
		reply := Reply{Text: t.Say(problemHow, "n", n)}
		for _, one := range problemWords {
			reply.Buttons = append(reply.Buttons, Button{capitalWord(t.Say(one.says)), "problem " + number(n) + " " + one.says.With()})
		}
		return reply, nil
	}
	for _, one := range problemWords {
		if said := strings.TrimPrefix(strings.ToLower(words), "the "); said == strings.TrimPrefix(one.says.With(), "the ") {
			return b.move(ctx, t, n, trade.Object{By: t.speaker.Identity(), Problem: one.problem, At: b.now()})
		}
	}
	return Reply{}, pointed{max(strings.Index(t.rest, words), 0), words, t.Say(problemUnread)}
}

func capitalWord(word string) string {
	first, size := utf8.DecodeRuneInString(word)
	return string(unicode.ToUpper(first)) + word[size:]
}

// paid says that the speaker has paid what they owe in a trade, to everyone or to one.
func (b *Bot) paid(ctx context.Context, t turn) (Reply, error) {
	return b.moveMoney(ctx, t, func(other match.Member) trade.Event {
		return trade.Pay{By: t.speaker.Identity(), To: other, At: b.now()}
	})
}

// moneyCame says that what the speaker is owed in a trade has come, from everyone or from one.
func (b *Bot) moneyCame(ctx context.Context, t turn) (Reply, error) {
	return b.moveMoney(ctx, t, func(other match.Member) trade.Event {
		return trade.GetPaid{By: t.speaker.Identity(), From: other, At: b.now()}
	})
}

func (b *Bot) moveMoney(ctx context.Context, t turn, event func(other match.Member) trade.Event) (Reply, error) {
	n, words, err := t.numberAnd()
	if err != nil {
		return Reply{}, err
	}
	if words == "" {
		return b.move(ctx, t, n, event(""))
	}
	v, err := b.viewNumber(ctx, t, n)
	if err != nil {
		return Reply{}, err
	}
	for _, p := range v.trade.Parties {
		if strings.EqualFold(v.name(p.Member), strings.TrimPrefix(words, "@")) {
			return b.move(ctx, t, n, event(p.Member))
		}
	}
	return Reply{}, pointed{max(strings.Index(t.rest, words), 0), words, t.Say(payWhom, "n", n)}
}

// numberAnd reads the number of a trade and the words after it.
func (t turn) numberAnd() (n int64, words string, err error) {
	if n, _, err = t.tradeNumber(); err != nil {
		return 0, "", err
	}
	_, words, _ = strings.Cut(strings.TrimSpace(t.rest), " ")
	return n, strings.TrimSpace(words), nil
}

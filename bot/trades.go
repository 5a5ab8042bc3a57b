package bot

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"spareounce/match/melt"
	"spareounce/match/trade"
	"spareounce/store"
)

// trades lists the speaker's proposed and agreed trades.
func (b *Bot) trades(ctx context.Context, t turn) (Reply, error) {
	open, err := b.store.OpenTrades(ctx, t.speaker)
	if err != nil {
		return Reply{}, err
	}
	if len(open) == 0 {
		return Reply{Text: t.Say(noTrades)}, nil
	}
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	var lines []string
	var reply Reply
	for _, one := range open {
		v := b.view(t, one, names)
		lines = append(lines, t.Say(tradeLine, "n", one.Number, "state", v.standing(), "give", v.gives(), "get", v.gets()))
		if len(reply.Buttons) < 10 {
			reply.Buttons = append(reply.Buttons, Button{Label: t.Say(pressTrade, "n", one.Number), Says: "trade " + number(one.Number)})
		}
	}
	reply.Text = strings.Join(lines, "\n")
	return reply, nil
}

// trade shows one trade whole.
func (b *Bot) trade(ctx context.Context, t turn) (Reply, error) {
	n, _, err := t.tradeNumber()
	if err != nil {
		return Reply{}, err
	}
	v, err := b.viewNumber(ctx, t, n)
	if err != nil {
		return Reply{}, err
	}
	return v.whole(), nil
}

// viewNumber looks at one of the speaker's trades.
func (b *Bot) viewNumber(ctx context.Context, t turn, n int64) (view, error) {
	one, err := b.store.TradeOf(ctx, t.speaker, n)
	if err != nil {
		return view{}, refuseTrade(err, n, view{})
	}
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return view{}, err
	}
	return b.view(t, one, names), nil
}

// accept says yes to a trade: "accept 12" to the terms as they are, "accept 12.2" to their second version.
func (b *Bot) accept(ctx context.Context, t turn) (Reply, error) {
	n, version, err := t.tradeNumber()
	if err != nil {
		return Reply{}, err
	}
	if version == 0 {
		v, err := b.viewNumber(ctx, t, n)
		if err != nil {
			return Reply{}, err
		}
		version = v.trade.Version
	}
	return b.move(ctx, t, n, trade.Accept{By: t.speaker.Identity(), Version: version, At: b.now()})
}

// decline says no.
func (b *Bot) decline(ctx context.Context, t turn) (Reply, error) {
	return b.moveSaid(ctx, t, trade.Decline{By: t.speaker.Identity()})
}

// moveSaid moves the trade that the line names.
func (b *Bot) moveSaid(ctx context.Context, t turn, e trade.Event) (Reply, error) {
	n, _, err := t.tradeNumber()
	if err != nil {
		return Reply{}, err
	}
	return b.move(ctx, t, n, e)
}

// move makes an event happen to a trade, and says where the trade stands after it.
func (b *Bot) move(ctx context.Context, t turn, n int64, e trade.Event) (Reply, error) {
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	one, err := b.store.MoveTrade(ctx, t.speaker, n, e)
	v := b.view(t, one, names)
	if err != nil {
		return Reply{}, refuseTrade(err, n, v)
	}
	reply := v.after(e)
	reply.About = v.about()
	return reply, nil
}

// leaveOut counters: the same trade without one piece.
func (b *Bot) leaveOut(ctx context.Context, t turn) (Reply, error) {
	n, version, err := t.tradeNumber()
	if err != nil {
		return Reply{}, err
	}
	v, err := b.viewNumber(ctx, t, n)
	if err != nil {
		return Reply{}, err
	}
	_, words, _ := strings.Cut(strings.TrimSpace(t.rest), " ")
	piece, ok := v.named(words)
	if !ok {
		return Reply{}, pointed{max(strings.LastIndex(t.rest, words), 0), words, t.Say(notInTrade, "n", n)}
	}
	return b.move(ctx, t, n, trade.LeaveOut{By: t.speaker.Identity(), Piece: piece, Version: version, At: b.now()})
}

// tradeNumber reads the number, and the version if one is said, that a line begins with: "12", "#12", "12.2".
func (t turn) tradeNumber() (n int64, version int, err error) {
	word, _ := wordAt(t.rest, 0)
	digits, of, dotted := strings.Cut(strings.TrimPrefix(word, "#"), ".")
	n, err = strconv.ParseInt(digits, 10, 64)
	if err == nil && dotted {
		version, err = strconv.Atoi(of)
	}
	if err != nil || n < 1 {
		if word == "" {
			return 0, 0, sentence(t.Say(whichTrade, "example", t.line(t.verb.example)))
		}
		return 0, 0, pointed{strings.Index(t.rest, word), word, t.Say(notANumber, "example", t.line(t.verb.example))}
	}
	return n, version, nil
}

// refuseTrade words why a trade did not move.
func refuseTrade(err error, n int64, v view) error {
	if errors.Is(err, store.ErrNoTrade) {
		return sentence(v.Say(noTradeOfYours, "n", n))
	}
	refusal, ok := errors.AsType[*trade.Refusal](err)
	if !ok {
		return err
	}
	return sentence(v.refusal(refusal))
}

func number(n int64) string { return strconv.FormatInt(n, 10) }

// money writes an amount that is paid in a trade.
func (v view) money(a melt.Minor) string {
	if v.trade.Currency == "" {
		return v.group.Currency.Format(a)
	}
	return v.trade.Currency.Format(a)
}

// worth writes a value of pieces: money, or a weight where the group had no price to value them by.
func (v view) worth(a melt.Minor) string {
	if v.trade.Spot == nil {
		return v.fine(a)
	}
	return v.money(a)
}

// fineGrams writes a fine weight that is given in milligrams.
func (v voice) fine(a melt.Minor) string {
	return v.Say(fineGrams, "n", fmt.Sprintf("%d.%02d", a/1000, a%1000/10))
}

package bot

import (
	"context"
	"errors"
	"slices"
	"strings"

	"spareounce/match/trade"
	"spareounce/store"
)

// Sharer is a Chat in which some members of a group can have a place of their own, such as a private thread.
type Sharer interface {
	// Share shows how something stands in one message of a place that its parties alone share, and opens that place when
	// there is none. It may be asked again with the same at any time, by any process, of one thing by one at a time: what
	// stands there already stays as it is. Where the group allows no such place it does nothing; a *LackingError says what the
	// group's keepers must change before it can. What it must remember of a place it keeps with Bot.SavePlace.
	Share(ctx context.Context, group string, what Shared) error
}

// Shared is something that several members have a part in, in words that all of them may read.
type Shared struct {
	About    string   // the line that shows it, "trade 12"
	Name     string   // of its place
	Accounts []string // who is invited, and nobody else
	Reply    Reply    // how it stands; its buttons speak for whoever presses them
	Over     bool     // nothing more will come: the place is closed, and none is opened any more
}

// LackingError says what a chat lacks to give the parties of something a place.
type LackingError struct {
	Channel     string   // in which it lacks something, as members call it; "" when the group has chosen none
	Permissions []string // as the chat calls them in English; none when there is no room for one more place
}

func (e *LackingError) Error() string {
	switch {
	case e.Channel == "":
		return "no channel is chosen for private threads"
	case len(e.Permissions) == 0:
		return "there is no room for another thread in " + e.Channel
	}
	return "in " + e.Channel + " we lack " + strings.Join(e.Permissions, ", ")
}

// Share shows an agreed trade, and what becomes of it, to its parties together. It is the store's Duties. Where the chat
// can't, the parties are told one by one as ever, and the keepers once what is lacking.
func (b *Bot) Share(ctx context.Context, g store.Group, t store.Trade) error {
	sharer, ok := b.chat.(Sharer)
	if !ok {
		return nil
	}
	catalogue, err := b.store.Catalogue(ctx, g)
	if err != nil {
		return err
	}
	names, err := b.store.MemberNames(ctx, g.ID)
	if err != nil {
		return err
	}
	var parties []int64
	for id := range names {
		if t.Has(store.Member{ID: id}.Identity()) {
			parties = append(parties, id)
		}
	}
	slices.Sort(parties)
	accounts, err := b.store.Accounts(ctx, parties)
	if err != nil {
		return err
	}
	v := b.viewOf(g, catalogue, store.Member{Chat: g.Language}, t, names)
	err = sharer.Share(ctx, g.Chat, Shared{
		About: v.about(), Name: v.Say(shareName, "n", t.Number), Accounts: accounts, Reply: v.shared(), Over: t.State != trade.Agreed,
	})
	lacking, ok := errors.AsType[*LackingError](err)
	if !ok {
		return err
	}
	b.log.WarnContext(ctx, "the parties of a trade have no place", "group", g.Chat, "err", lacking)
	return b.store.TellKeepers(ctx, g, store.PlaceLacks, "place "+lacking.Error(),
		store.NoticeBody{Trade: t.Number, Channel: lacking.Channel, Lacks: lacking.Permissions})
}

// shared is a trade as all its parties may see it together: what each gives to whom, how far that has come and what it waits
// for. What each gets by value, their limits and what follows a parcel are left out.
func (v view) shared() Reply {
	lines := append([]string{v.Say(tradeHead, "n", v.trade.Number, "shape", v.shape(), "state", v.standing())}, v.record()...)
	lines = append(lines, v.valuedAt())
	if v.trade.State != trade.Agreed {
		return v.spoken(Reply{Text: strings.Join(append(lines, v.Say(shareOver)), "\n"), About: v.about()})
	}
	return v.spoken(Reply{
		Text: strings.Join(append(lines, v.Say(shareHow, "n", v.trade.Number), v.Say(agreedHow)), "\n"), About: v.about(), Buttons: v.everyButton(),
	})
}

// everyButton is what any party can do now. Whoever presses one speaks for themselves, so what is not theirs to say is refused.
func (v view) everyButton() []Button {
	var all []Button
	for i, p := range v.trade.Parties {
		v.me = p.Member
		for _, one := range v.agreedButtons(i) {
			if !slices.Contains(all, one) {
				all = append(all, one)
			}
		}
	}
	return all
}

// placeLacks tells a keeper why the parties of a trade have no place of their own.
func placeLacks(in voice, n store.Notice) Reply {
	switch {
	case n.Body.Channel == "":
		return Reply{Text: in.Say(shareNowhere), Buttons: []Button{{in.command("begin"), "begin"}}}
	case len(n.Body.Lacks) == 0:
		return Reply{Text: in.Say(shareFull, "n", n.Body.Trade)}
	}
	lacks := make([]string, len(n.Body.Lacks))
	for i, one := range n.Body.Lacks {
		lacks[i] = in.Say(phrase(one))
	}
	return Reply{Text: in.Say(shareLacks, "channel", n.Body.Channel, "list", strings.Join(lacks, ", "))}
}

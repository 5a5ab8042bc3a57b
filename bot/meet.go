package bot

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"spareounce/match"
	"spareounce/match/meetup"
	"spareounce/match/trade"
	"spareounce/store"
)

// longestPlace is how many letters a place may have.
const longestPlace = 100

// meet shows the next evening in person, has a member come to it or not, and lets keepers set, plan and call it off.
func (b *Bot) meet(ctx context.Context, t turn) (Reply, error) {
	word, rest, _ := strings.Cut(t.rest, " ")
	word = strings.ToLower(word)
	if slices.Contains([]string{"on", "plan", "off"}, word) && !t.speaker.Keeper {
		return Reply{}, sentence(t.Say(meetKeepers))
	}
	var reply Reply
	var err error
	switch word {
	case "":
		reply, err = b.meetup(ctx, t)
	case "yes", "no":
		reply, err = b.come(ctx, t, word == "yes")
	case "on":
		reply, err = b.callMeetup(ctx, t, rest)
	case "plan":
		reply, err = b.planMeetup(ctx, t)
	case "off":
		reply, err = Reply{Text: t.Say(meetCalledOff)}, b.store.CallOffMeetup(ctx, t.group.ID)
	default:
		if !t.heard.Private {
			return Reply{}, nil // "meet me at the show" is not for us
		}
		return Reply{}, sentence(t.Say(meetWords, "word", word))
	}
	if errors.Is(err, store.ErrNoMeetup) {
		return Reply{}, sentence(t.Say(noMeetup))
	}
	return reply, err
}

func (v voice) comingButtons() []Button {
	return []Button{{v.Say(pressCome), "meet yes"}, {v.Say(pressStay), "meet no"}}
}

// callMeetup sets the next evening: "on 2026-03-14 19:00 in the library".
func (b *Bot) callMeetup(ctx context.Context, t turn, said string) (Reply, error) {
	words := strings.Fields(said)
	if len(words) > 2 && (strings.EqualFold(words[2], "in") || strings.EqualFold(words[2], "at")) {
		words = slices.Delete(words, 2, 3)
	}
	if len(words) < 3 {
		return Reply{}, sentence(t.Say(meetHow))
	}
	at, err := time.ParseInLocation("2006-01-02 15:04", words[0]+" "+words[1], t.group.Location())
	place := strings.Join(words[2:], " ")
	if err != nil || utf8.RuneCountInString(place) > longestPlace {
		return Reply{}, sentence(t.Say(meetHow))
	}
	if !at.After(b.now()) {
		return Reply{}, sentence(t.Say(meetPast, "at", t.evening(t.group, at)))
	}
	if err := b.store.CallMeetup(ctx, t.group.ID, at.UTC(), place); err != nil {
		return Reply{}, err
	}
	return Reply{Text: t.Say(meetSet, "at", t.evening(t.group, at), "place", place), Buttons: t.comingButtons()}, nil
}

// evening writes the day and time of an evening on the group's clock.
func (v voice) evening(g store.Group, at time.Time) string {
	return v.InFull(at.In(g.Location()))
}

// come notes whether the speaker comes.
func (b *Bot) come(ctx context.Context, t turn, comes bool) (Reply, error) {
	next, err := b.store.Come(ctx, t.speaker, comes)
	if err != nil {
		return Reply{}, err
	}
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	said := meetStaysAway
	if comes {
		said = meetComes
	}
	return Reply{Private: true, Text: t.Say(said, "at", t.evening(t.group, next.At), "place", next.Place, "n", whoCome(t.voice, next, names))}, nil
}

func whoCome(in voice, next store.Meetup, names map[int64]string) string {
	var who []string
	for _, id := range next.Coming {
		who = append(who, names[id])
	}
	switch len(who) {
	case 0:
		return in.Say(nobodyComes)
	case 1:
		return in.Say(oneComes, "names", who[0])
	}
	return in.Say(severalCome, "n", len(who), "names", in.And(who))
}

// meetup shows the next evening as the speaker sees it: what they bring and get, and their own tables; a keeper sees all
// tables, as names alone.
func (b *Bot) meetup(ctx context.Context, t turn) (Reply, error) {
	next, there, err := b.store.Meetup(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	names, err := b.store.MemberNames(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	lines := []string{t.Say(meetHead, "at", t.evening(t.group, next.At), "place", next.Place, "n", whoCome(t.voice, next, names))}
	reply := Reply{Private: true, Buttons: t.comingButtons()}
	me := t.speaker.Identity()
	if next.Comes(me) {
		reply.Buttons = reply.Buttons[1:]
	} else {
		lines = append(lines, t.Say(meetNotComing))
	}
	var all []meetup.Handover
	var mine []string
	for _, one := range there {
		handed := next.Handovers(one)
		all = append(all, handed...)
		if one.Has(me) {
			mine = append(mine, b.view(t, one, names).handed(handed)...)
		}
	}
	if len(mine) == 0 && next.Comes(me) {
		mine = []string{t.Say(bringNothing)}
	}
	lines = append(lines, mine...)
	lines = append(lines, tables(t.voice, meetup.Arrange(all), me, t.speaker.Keeper, names)...)
	if len(all) > 0 {
		lines = append(lines, t.Say(meetCaution))
	}
	reply.Text = strings.Join(lines, "\n")
	return reply, nil
}

// handed says what the viewer brings and gets of one trade.
func (v view) handed(all []meetup.Handover) (lines []string) {
	state := meetIfAgreed
	if v.trade.State == trade.Agreed {
		state = meetAgreed
	}
	among := func(item trade.Item) bool {
		return slices.Contains(all, meetup.Handover{From: item.From, To: item.To, Piece: item.Piece})
	}
	for _, p := range v.trade.Parties {
		brings := func(item trade.Item) bool { return v.mine(item) && item.To == p.Member && among(item) }
		if list := v.pieces(brings); list != "" {
			lines = append(lines, v.Say(bring, "list", list, "name", v.name(p.Member), "n", v.trade.Number, "state", v.Say(state)))
		}
		gets := func(item trade.Item) bool { return v.toMe(item) && item.From == p.Member && among(item) }
		if list := v.pieces(gets); list != "" {
			lines = append(lines, v.Say(bringsYou, "list", list, "name", v.name(p.Member), "n", v.trade.Number, "state", v.Say(state)))
		}
	}
	return lines
}

// tables says with whom a member sits in which round, and to a keeper who sits with whom.
func tables(in voice, e meetup.Evening, me match.Member, keeper bool, names map[int64]string) (lines []string) {
	called := map[match.Member]string{}
	for id, name := range names {
		called[store.Member{ID: id}.Identity()] = name
	}
	count := in.Say(someRounds, "n", len(e.Rounds))
	switch {
	case len(e.Rounds) == 1:
		count = in.Say(oneRound)
	case e.Fewest:
		count = in.Say(fewestRounds, "n", len(e.Rounds))
	}
	var own, every []string
	for n, round := range e.Rounds {
		var pairs []string
		for _, x := range round {
			pairs = append(pairs, in.Say(tablePair, "a", called[x.A], "b", called[x.B]))
			switch me {
			case x.A:
				own = append(own, in.Say(roundWith, "n", n+1, "name", called[x.B]))
			case x.B:
				own = append(own, in.Say(roundWith, "n", n+1, "name", called[x.A]))
			}
		}
		every = append(every, in.Say(roundLine, "n", n+1, "list", strings.Join(pairs, ", ")))
	}
	if len(own) > 0 {
		lines = append(lines, in.Say(yourRounds, "n", count, "list", strings.Join(own, ", ")))
	}
	if keeper && len(every) > 0 {
		lines = append(append(lines, in.Say(allRounds, "n", count)), every...)
	}
	return lines
}

// planMeetup proposes what those who come can trade among themselves.
func (b *Bot) planMeetup(ctx context.Context, t turn) (Reply, error) {
	next, _, err := b.store.Meetup(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	if len(next.Coming) < 2 {
		return Reply{}, sentence(t.Say(planNobody))
	}
	found, proposed, err := b.store.PlanMeetup(ctx, t.group.ID)
	if err != nil {
		return Reply{}, err
	}
	if found == 0 {
		return Reply{Private: true, Text: t.Say(planNothing, "n", len(next.Coming))}, nil
	}
	count := t.Say(tradesFound, "n", found)
	if found == 1 {
		count = t.Say(tradesFoundOne)
	}
	return Reply{Private: true, Text: t.Say(planFound, "n", len(next.Coming), "found", count, "new", proposed)}, nil
}

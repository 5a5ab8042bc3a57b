package bot

import (
	"slices"
	"strings"
	"time"

	"spareounce/match"
	"spareounce/match/melt"
	"spareounce/match/trade"
	"spareounce/store"
)

// wasAgreed reports whether all have said yes to the trade.
func (v view) wasAgreed() bool {
	return v.trade.State != trade.Proposed && !slices.ContainsFunc(v.trade.Parties, func(p trade.Party) bool { return !p.Accepted })
}

// record says of everything that is sent and paid in an agreed trade how far it has come; of one that is over, who had done
// what.
func (v view) record() []string {
	var lines []string
	for i, p := range v.trade.Parties {
		list := v.pieces(func(item trade.Item) bool { return item.From == p.Member })
		if list == "" {
			continue
		}
		to := v.next(i)
		line := legLine.with("from", v.name(p.Member), "to", v.name(to.Member), "list", list, "stage", v.stage(p, to))
		if tracking := v.trade.Parcels[p.Member].Tracking; tracking != "" && (v.me == p.Member || v.me == to.Member || v.me == v.trade.Middle) {
			line += " " + followIt.with("tracking", tracking)
		}
		if p.Left && p.Member != v.me {
			line += " " + leftGroup.with("name", v.name(p.Member))
		}
		lines = append(lines, capital(line))
	}
	for _, pay := range v.trade.TopUps {
		lines = append(lines, capital(payLine.with("from", v.name(pay.From), "to", v.name(pay.To), "amount", v.money(pay.Amount), "stage", v.payment(pay))))
	}
	return lines
}

func (v view) next(i int) trade.Party { return v.trade.Parties[(i+1)%len(v.trade.Parties)] }

// capital makes the first letter of a line a capital: names are written as they are, "you" is not one.
func capital(line string) string {
	if strings.HasPrefix(line, you.with()+" ") {
		return strings.ToUpper(line[:1]) + line[1:]
	}
	return line
}

// stage says how far what one party gives to another has come.
func (v view) stage(p, to trade.Party) string {
	at := v.bot.when(v.group, p.Due)
	over := v.trade.State != trade.Agreed
	switch p.Stage {
	case trade.Done:
		return stageDone.with()
	case trade.InTrouble:
		if over {
			return stopTrouble.with("problem", problemWord(to.Problem), "name", v.name(to.Member))
		}
		return stageTrouble.with("problem", problemWord(to.Problem), "name", v.name(to.Member), "at", at)
	case trade.ToCheck:
		if over {
			return stopArrived.with()
		}
		return stageToCheck.with("at", at)
	case trade.OnItsWay, trade.WithMiddle, trade.ToPassOn:
		switch {
		case over:
			return stopSent.with()
		case p.Stage == trade.OnItsWay:
			return stageOnItsWay.with("at", at)
		case p.Stage == trade.WithMiddle:
			return stageWithMiddle.with("name", v.name(v.trade.Middle))
		}
		return stageToPassOn.with("name", v.name(v.trade.Middle), "at", v.bot.when(v.group, v.passedOnBy()))
	case trade.ToSend:
		if !over {
			return stageToSend.with("at", at)
		}
	}
	if over {
		return stopNotSent.with()
	}
	return stageWaiting.with()
}

// passedOnBy is when the middle is next asked to send on what is there: once for all parcels.
func (v view) passedOnBy() time.Time {
	i := slices.IndexFunc(v.trade.Parties, func(p trade.Party) bool { return p.Stage == trade.ToPassOn && !p.Due.IsZero() })
	if i < 0 {
		return v.trade.Deadline
	}
	return v.trade.Parties[i].Due
}

// endsBy is when the clock ends a trade for which the keepers have been told, if nothing moves.
func (v view) endsBy() time.Time {
	at := time.Time{}
	sooner := func(c trade.Clock) {
		if c.Nudges > trade.Reminders && (at.IsZero() || c.Due.Before(at)) {
			at = c.Due
		}
	}
	for _, p := range v.trade.Parties {
		sooner(p.Clock)
	}
	for _, pay := range v.trade.TopUps {
		sooner(pay.Clock)
	}
	if at.IsZero() {
		return v.trade.Deadline
	}
	return at
}

func (v view) payment(pay trade.TopUp) string {
	switch {
	case pay.Got:
		return stageGot.with()
	case pay.Paid:
		return stagePaid.with("from", v.name(pay.From))
	case v.trade.State != trade.Agreed:
		return stopUnpaid.with()
	}
	return stageUnpaid.with("at", v.bot.when(v.group, pay.Due))
}

func problemWord(p trade.Problem) string {
	return map[trade.Problem]phrase{
		trade.NotArrived: problemMissing, trade.NotAsDescribed: problemOther, trade.WrongPiece: problemWrong,
	}[p].with()
}

// agreedButtons are what the i-th party, or who stands in the middle, can do in an agreed trade.
func (v view) agreedButtons(i int) []Button {
	n := number(v.trade.Number)
	if i < 0 {
		allThere := slices.ContainsFunc(v.trade.Parties, func(p trade.Party) bool { return p.Stage == trade.ToPassOn })
		if v.me == v.trade.Middle && allThere {
			return []Button{{"I have sent it all on", "passed on " + n}}
		}
		return nil
	}
	var buttons []Button
	me := v.trade.Parties[i]
	if me.Stage == trade.ToSend {
		buttons = append(buttons, Button{"I have sent it", "sent " + n})
	}
	if slices.ContainsFunc(v.trade.Items, v.toMe) && !me.Received {
		switch {
		case me.Problem != trade.NoProblem:
			buttons = append(buttons, Button{"It is settled", "checked " + n})
		case me.Arrived:
			buttons = append(buttons, Button{"All is well", "checked " + n}, Button{"Something is wrong", "problem " + n})
		default:
			buttons = append(buttons, Button{"It has arrived", "arrived " + n})
		}
	}
	owes, owed := false, false
	for _, pay := range v.trade.TopUps {
		owes = owes || pay.From == v.me && !pay.Paid
		owed = owed || pay.To == v.me && !pay.Got
	}
	if owes {
		buttons = append(buttons, Button{"I have paid", "paid " + n})
	}
	if owed {
		buttons = append(buttons, Button{"The money has come", "money " + n})
	}
	return buttons
}

// brief is what a party of an agreed trade must know: what to send to whom and when, what comes from whom, and the cautions.
func (v view) brief() Reply {
	if v.me == v.trade.Middle {
		lines := append([]string{middleBrief.with("n", v.trade.Number)}, v.record()...)
		return Reply{Text: strings.Join(append(lines, agreedHow.with()), "\n"), Buttons: v.buttons()}
	}
	lines := []string{tradeAgreed.with("n", v.trade.Number), tradeYouGive.with("list", v.gives()), tradeYouGet.with("list", v.gets()), v.balance()}
	if slices.ContainsFunc(v.trade.Items, v.mine) {
		lines = append(lines, v.order(), v.parcel())
	}
	if i := slices.IndexFunc(v.trade.TopUps, func(pay trade.TopUp) bool { return pay.From == v.me }); i >= 0 {
		lines = append(lines, payBy.with("at", v.bot.when(v.group, v.trade.TopUps[i].Due)))
	}
	return Reply{Text: strings.Join(append(lines, agreedHow.with()), "\n"), Buttons: v.buttons()}
}

// order says when the viewer sends, by the group's rule.
func (v view) order() string {
	me := v.party(v.me)
	switch {
	case v.trade.Middle != "":
		return sendBy.with("at", v.bot.when(v.group, me.Due)) + " " + sendToMiddle.with("name", v.name(v.trade.Middle))
	case me.Stage == trade.ToSend:
		return sendBy.with("at", v.bot.when(v.group, me.Due))
	case v.trade.Chain:
		return sendLaterChain.with()
	}
	var first []string
	for _, p := range v.trade.Parties {
		if p.Turn < me.Turn {
			first = append(first, v.name(p.Member))
		}
	}
	return sendLater.with("names", both(first))
}

func (v view) party(m match.Member) trade.Party {
	i := slices.IndexFunc(v.trade.Parties, func(p trade.Party) bool { return p.Member == m })
	if i < 0 {
		return trade.Party{}
	}
	return v.trade.Parties[i]
}

// parcel says what the viewer's parcel weighs, as far as the catalogue knows, and who pays for it.
func (v view) parcel() string {
	var gross melt.Weight
	for _, item := range v.trade.Items {
		if !v.mine(item) {
			continue
		}
		key := store.ReadPieceID(item.Piece)
		one, _ := v.catalogue.Series(key.Series)
		p, ok := one.Piece(key.Piece)
		if !ok || one.MetalOf(p).Gross <= 0 {
			return parcelUnweighed.with()
		}
		gross += one.MetalOf(p).Gross
	}
	return parcelWeighs.with("n", grams(gross))
}

// grams writes a weight to the tenth of a gram, as a kitchen scale shows it.
func grams(w melt.Weight) string {
	tenths := (int64(w) + 50_000_000) / 100_000_000
	return number(tenths/10) + "." + number(tenths%10) + " g"
}

// both writes names in a row, "Ann, Bo and Cy".
func both(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

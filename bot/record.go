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
		line := v.Say(legLine, "from", v.name(p.Member), "to", v.name(to.Member), "list", list, "stage", v.stage(p, to))
		if tracking := v.trade.Parcels[p.Member].Tracking; tracking != "" && (v.me == p.Member || v.me == to.Member || v.me == v.trade.Middle) {
			line += " " + v.Say(followIt, "tracking", tracking)
		}
		if p.Left && p.Member != v.me {
			line += " " + v.Say(leftGroup, "name", v.name(p.Member))
		}
		lines = append(lines, capital(v.voice, line))
	}
	for _, pay := range v.trade.TopUps {
		lines = append(lines, capital(v.voice, v.Say(payLine, "from", v.name(pay.From), "to", v.name(pay.To), "amount", v.money(pay.Amount), "stage", v.payment(pay))))
	}
	return lines
}

func (v view) next(i int) trade.Party { return v.trade.Parties[(i+1)%len(v.trade.Parties)] }

// capital makes the first letter of a line a capital: names are written as they are, "you" is not one.
func capital(in voice, line string) string {
	if strings.HasPrefix(line, in.Say(you)+" ") {
		return capitalWord(line)
	}
	return line
}

// stage says how far what one party gives to another has come.
func (v view) stage(p, to trade.Party) string {
	at := v.when(v.group, p.Due)
	over := v.trade.State != trade.Agreed
	switch p.Stage {
	case trade.Done:
		return v.Say(stageDone)
	case trade.InTrouble:
		if over {
			return v.Say(stopTrouble, "problem", problemWord(v.voice, to.Problem), "name", v.name(to.Member))
		}
		return v.Say(stageTrouble, "problem", problemWord(v.voice, to.Problem), "name", v.name(to.Member), "at", at)
	case trade.ToCheck:
		if over {
			return v.Say(stopArrived)
		}
		return v.Say(stageToCheck, "at", at)
	case trade.OnItsWay, trade.WithMiddle, trade.ToPassOn:
		switch {
		case over:
			return v.Say(stopSent)
		case p.Stage == trade.OnItsWay:
			return v.Say(stageOnItsWay, "at", at)
		case p.Stage == trade.WithMiddle:
			return v.Say(stageWithMiddle, "name", v.name(v.trade.Middle))
		}
		return v.Say(stageToPassOn, "name", v.name(v.trade.Middle), "at", v.when(v.group, v.passedOnBy()))
	case trade.ToSend:
		if !over {
			return v.Say(stageToSend, "at", at)
		}
	}
	if over {
		return v.Say(stopNotSent)
	}
	return v.Say(stageWaiting)
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
		return v.Say(stageGot)
	case pay.Paid:
		return v.Say(stagePaid, "from", v.name(pay.From))
	case v.trade.State != trade.Agreed:
		return v.Say(stopUnpaid)
	}
	return v.Say(stageUnpaid, "at", v.when(v.group, pay.Due))
}

func problemWord(in voice, p trade.Problem) string {
	return in.Say(map[trade.Problem]phrase{
		trade.NotArrived: problemMissing, trade.NotAsDescribed: problemOther, trade.WrongPiece: problemWrong,
	}[p])
}

// agreedButtons are what the i-th party, or who stands in the middle, can do in an agreed trade.
func (v view) agreedButtons(i int) []Button {
	n := number(v.trade.Number)
	if i < 0 {
		allThere := slices.ContainsFunc(v.trade.Parties, func(p trade.Party) bool { return p.Stage == trade.ToPassOn })
		if v.me == v.trade.Middle && allThere {
			return []Button{{v.Say(pressPassedOn), "passed on " + n}}
		}
		return nil
	}
	var buttons []Button
	me := v.trade.Parties[i]
	if me.Stage == trade.ToSend {
		buttons = append(buttons, Button{v.Say(pressSent), "sent " + n})
	}
	if slices.ContainsFunc(v.trade.Items, v.toMe) && !me.Received {
		switch {
		case me.Problem != trade.NoProblem:
			buttons = append(buttons, Button{v.Say(pressSettled), "checked " + n})
		case me.Arrived:
			buttons = append(buttons, Button{v.Say(pressChecked), "checked " + n}, Button{v.Say(pressProblem), "problem " + n})
		default:
			buttons = append(buttons, Button{v.Say(pressArrived), "arrived " + n})
		}
	}
	owes, owed := false, false
	for _, pay := range v.trade.TopUps {
		owes = owes || pay.From == v.me && !pay.Paid
		owed = owed || pay.To == v.me && !pay.Got
	}
	if owes {
		buttons = append(buttons, Button{v.Say(pressPaid), "paid " + n})
	}
	if owed {
		buttons = append(buttons, Button{v.Say(pressMoney), "money " + n})
	}
	return buttons
}

// brief is what a party of an agreed trade must know: what to send to whom and when, what comes from whom, and the cautions.
func (v view) brief() Reply {
	if v.me == v.trade.Middle {
		lines := append([]string{v.Say(middleBrief, "n", v.trade.Number)}, v.record()...)
		return Reply{Text: strings.Join(append(lines, v.Say(agreedHow)), "\n"), Buttons: v.buttons()}
	}
	lines := []string{v.Say(tradeAgreed, "n", v.trade.Number), v.Say(tradeYouGive, "list", v.gives()), v.Say(tradeYouGet, "list", v.gets()), v.balance()}
	if slices.ContainsFunc(v.trade.Items, v.mine) {
		lines = append(lines, v.order(), v.parcel())
	}
	if i := slices.IndexFunc(v.trade.TopUps, func(pay trade.TopUp) bool { return pay.From == v.me }); i >= 0 {
		lines = append(lines, v.Say(payBy, "at", v.when(v.group, v.trade.TopUps[i].Due)))
	}
	return Reply{Text: strings.Join(append(lines, v.Say(agreedHow)), "\n"), Buttons: v.buttons()}
}

// order says when the viewer sends, by the group's rule.
func (v view) order() string {
	me := v.party(v.me)
	switch {
	case v.trade.Middle != "":
		return v.Say(sendBy, "at", v.when(v.group, me.Due)) + " " + v.Say(sendToMiddle, "name", v.name(v.trade.Middle))
	case me.Stage == trade.ToSend:
		return v.Say(sendBy, "at", v.when(v.group, me.Due))
	case v.trade.Chain:
		return v.Say(sendLaterChain)
	}
	var first []string
	for _, p := range v.trade.Parties {
		if p.Turn < me.Turn {
			first = append(first, v.name(p.Member))
		}
	}
	return v.Say(sendLater, "names", v.And(first))
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
			return v.Say(parcelUnweighed)
		}
		gross += one.MetalOf(p).Gross
	}
	return v.Say(parcelWeighs, "n", grams(gross))
}

// grams writes a weight to the tenth of a gram, as a kitchen scale shows it.
func grams(w melt.Weight) string {
	tenths := (int64(w) + 50_000_000) / 100_000_000
	return number(tenths/10) + "." + number(tenths%10) + " g"
}

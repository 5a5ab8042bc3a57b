package bot

import (
	"context"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"spareounce/bot/tongue"
)

// verb is one thing a member can do.
type verb struct {
	name    string   // the word we use for it
	also    []string // other words members say
	keeper  bool     // only for who runs the group
	private bool     // the answer is for the speaker alone
	list    bool     // takes pieces in the shorthand
	priced  bool     // may be told a price, "@62"
	example string
	help    phrase
	run     func(b *Bot, ctx context.Context, t turn) (Reply, error)
}

// verbs are in the order in which help lists them. Filled in by init, for some of them list the others.
var verbs []verb

func init() { verbs = append(memberVerbs(), keeperVerbs()...) }

func memberVerbs() []verb {
	return []verb{
		{name: "have", also: []string{"i have", "own", "hold"}, private: true, list: true, example: "have harbour 82-84, 85 x2", help: helpHave, run: (*Bot).have},
		{name: "got", also: []string{"bought", "found"}, private: true, list: true, priced: true, example: "got harbour 87", help: helpGot, run: (*Bot).bought},
		{name: "spare", also: []string{"i can spare", "can spare", "ft", "wtt"}, list: true, priced: true, example: "spare harbour 85 bright ask 38", help: helpSpare, run: (*Bot).spare},
		{name: "double", also: []string{"doubles", "duplicate", "dup"}, list: true, priced: true, example: "double harbour 85", help: helpDouble, run: (*Bot).double},
		{name: "give", also: []string{"gift", "pif"}, list: true, example: "give bars 1oz", help: helpGive, run: (*Bot).give},
		{name: "keep", also: []string{"unspare", "keep back"}, private: true, list: true, example: "keep harbour 85", help: helpKeep, run: (*Bot).keep},
		{name: "want", also: []string{"i want", "wanted", "need", "iso", "wtb", "looking for"}, list: true, example: "want harbour rest", help: helpWant, run: (*Bot).want},
		{name: "unwant", also: []string{"no longer want", "don't want", "not want"}, private: true, list: true, example: "unwant harbour 84", help: helpUnwant, run: (*Bot).unwant},
		{name: "drop", also: []string{"remove", "sold", "lost"}, private: true, list: true, example: "drop harbour 84", help: helpDrop, run: (*Bot).drop},
		{name: "gaps", also: []string{"gap", "missing", "set", "card", "my set"}, private: true, example: "gaps harbour", help: helpGaps, run: (*Bot).gaps},
		{name: "hunt", also: []string{"hunt list", "shopping list"}, private: true, example: "hunt harbour", help: helpHunt, run: (*Bot).hunt},
		{name: "bin", also: []string{"bins"}, private: true, list: true, priced: true, example: "bin harbour 84 gull x3 @62, 87 @75, bars 5oz @310 budget 300", help: helpBin, run: (*Bot).bin},
		{name: "useful", also: []string{"most useful", "what helps"}, example: "useful", help: helpUseful, run: (*Bot).useful},
		{name: "luck", private: true, example: "luck harbour", help: helpLuck, run: (*Bot).luck},
		{name: "check", also: []string{"is it right"}, private: true, example: "check 31.10 dry 28.14 wet 21C", help: helpCheck, run: (*Bot).check},
		{name: "scale", also: []string{"scale check"}, private: true, example: "scale 50 x US 5c 249.8", help: helpScale, run: (*Bot).scale},
		{name: "who", also: []string{"who has", "who can spare", "who's got", "anyone"}, list: true, example: "who harbour 87", help: helpWho, run: (*Bot).who},
		{name: "why", also: []string{"why not", "why no"}, private: true, list: true, example: "why harbour 87", help: helpWhy, run: (*Bot).why},
		{name: "spares", also: []string{"for trade"}, example: "spares Bo", help: helpSpares, run: (*Bot).spares},
		{name: "wants", also: []string{"wishes"}, example: "wants Bo", help: helpWants, run: (*Bot).wants},
		{name: "scarce", also: []string{"scarcest", "rare"}, example: "scarce harbour", help: helpScarce, run: (*Bot).scarce},
		{name: "checklist", also: []string{"complete", "count"}, private: true, example: "checklist harbour without 84 gull", help: helpChecklist, run: (*Bot).checklist},
		{name: "trades", also: []string{"my trades", "open trades"}, private: true, example: "trades", help: helpTrades, run: (*Bot).trades},
		{name: "trade", also: []string{"show trade"}, private: true, example: "trade 12", help: helpTrade, run: (*Bot).trade},
		{name: "accept", also: []string{"agree"}, private: true, example: "accept 12", help: helpAccept, run: (*Bot).accept},
		{name: "decline", also: []string{"refuse"}, private: true, example: "decline 12", help: helpDecline, run: (*Bot).decline},
		{name: "leave out", also: []string{"without"}, private: true, example: "leave out 12 harbour 85", help: helpLeaveOut, run: (*Bot).leaveOut},
		{name: "offer", private: true, example: "offer Bo lantern 84 for lantern 88 plus 5", help: helpOffer, run: (*Bot).offer},
		{name: "counter", also: []string{"counter offer", "counter-offer"}, private: true, example: "counter 12 lantern 84 for lantern 88, 89 plus 3", help: helpCounter, run: (*Bot).counter},
		{name: "sent", also: []string{"shipped", "posted"}, private: true, example: "sent 12 by Northpost AB 123", help: helpSentTrack, run: (*Bot).sent},
		{name: "arrived", also: []string{"received"}, private: true, example: "arrived 12", help: helpArrived, run: (*Bot).arrived},
		{name: "checked", also: []string{"all well", "all is well"}, private: true, example: "checked 12", help: helpChecked, run: (*Bot).checked},
		{name: "problem", also: []string{"object"}, private: true, example: "problem 12 not arrived", help: helpProblem, run: (*Bot).problem},
		{name: "paid", private: true, example: "paid 12 Bo", help: helpPaid, run: (*Bot).paid},
		{name: "money", also: []string{"got paid", "money came"}, private: true, example: "money 12 Bo", help: helpMoney, run: (*Bot).moneyCame},
		{name: "passed on", also: []string{"sent on", "forwarded"}, private: true, example: "passed on 12", help: helpPassedOn, run: (*Bot).passedOn},
		{name: "history", private: true, example: "history 12", help: helpHistory, run: (*Bot).history},
		{name: "ledger", also: []string{"my ledger", "record"}, private: true, example: "ledger 2026", help: helpLedger, run: (*Bot).ledger},
		{name: "standing", also: []string{"reputation"}, private: true, example: "standing Bo", help: helpStanding, run: (*Bot).standing},
		{name: "upgrade", also: []string{"better"}, private: true, list: true, example: "upgrade harbour 84 bright", help: helpUpgrade, run: (*Bot).upgrade},
		{name: "meet", also: []string{"meet-up", "meetup"}, example: "meet yes", help: helpMeet, run: (*Bot).meet},
		{name: "round", also: []string{"rounds"}, example: "round in", help: helpRound, run: (*Bot).round},
		{name: "undo", also: []string{"oops", "take back"}, private: true, example: "undo", help: helpUndo, run: (*Bot).undo},
		{name: "series", also: []string{"catalogue"}, private: true, example: "series harbour", help: helpSeries, run: (*Bot).series},
		{name: "mute", private: true, example: "mute harbour", help: helpMute, run: (*Bot).mute},
		{name: "unmute", private: true, example: "unmute all", help: helpUnmute, run: (*Bot).unmute},
		{name: "quiet", also: []string{"quiet hours"}, private: true, example: "quiet 22-7", help: helpQuiet, run: (*Bot).quiet},
		{name: "digest", private: true, example: "digest 18:30", help: helpDigest, run: (*Bot).digest},
		{name: "seen", private: true, example: "seen on", help: helpSeen, run: (*Bot).seen},
		{name: "reach", private: true, example: "reach message", help: helpReach, run: (*Bot).reach},
		{name: "topup", also: []string{"top-up", "top up"}, private: true, example: "topup 20", help: helpTopUp, run: (*Bot).topUp},
		{name: "language", also: everyLanguage, private: true, example: "language de", help: helpLanguage, run: (*Bot).language},
		{name: "numbers", also: []string{"locale"}, private: true, example: "numbers de-CH", help: helpNumbers, run: (*Bot).numbers},
		{name: "region", private: true, example: "region EU", help: helpRegion, run: (*Bot).region},
		{name: "leave", also: []string{"leave the group"}, private: true, example: "leave the group", help: helpLeave, run: (*Bot).leave},
		{name: "forget", also: []string{"forget me", "delete me"}, private: true, example: "forget", help: helpForget, run: (*Bot).forget},
		{name: "help", also: []string{"?", "commands", "what can i say"}, private: true, example: "help want", help: helpHelp, run: (*Bot).help},
		{name: "spot", also: []string{"silver", "price"}, example: "spot 31.20", help: helpSpot, run: (*Bot).spot},
	}
}

// everyLanguage are the words for language in all languages that we speak: who is answered in the wrong one must be able to say so.
var everyLanguage = []string{"speak", "sprache", "idioma", "langue", "言語"}

// keeperVerbs are what who runs the group can do, and what goes with it.
func keeperVerbs() []verb {
	return []verb{
		{name: "begin", also: []string{"first steps"}, keeper: true, private: true, example: "begin", help: helpBegin, run: (*Bot).begins},
		{name: "melt", also: []string{"my metal", "my silver"}, private: true, example: "melt", help: helpMelt, run: (*Bot).melt},
		{name: "cost", also: []string{"what i paid"}, private: true, example: "cost harbour", help: helpCost, run: (*Bot).cost},
		{name: "year", also: []string{"price of its year"}, private: true, list: true, example: "year lantern 84", help: helpYear, run: (*Bot).year},
		{name: "premiums", also: []string{"above melt"}, example: "premiums harbour", help: helpPremiums, run: (*Bot).premiums},
		{name: "week", also: []string{"this week"}, private: true, example: "week", help: helpWeek, run: (*Bot).week},
		{name: "weekly", also: []string{"weekly post"}, private: true, example: "weekly Monday 18:00", help: helpWeekly, run: (*Bot).weekly},
		{name: "counted", also: []string{"count me"}, private: true, example: "counted on", help: helpCounted, run: (*Bot).counted},
		{name: "feed", also: []string{"feeds", "source", "sources"}, keeper: true, private: true, example: "feed https://prices.example/latest at /rates/XAG inverse", help: helpFeed, run: (*Bot).feed},
		{name: "prices", also: []string{"price rules"}, keeper: true, private: true, example: "prices stale 24 hours", help: helpPrices, run: (*Bot).prices},
		{name: "import", also: []string{"import series"}, keeper: true, private: true, example: "import, then a series file pasted below it", help: helpImport, run: (*Bot).importSeries},
		{name: "export", also: []string{"export series"}, keeper: true, private: true, example: "export harbour", help: helpExport, run: (*Bot).exportSeries},
		{name: "problems", also: []string{"open problems", "stuck"}, keeper: true, private: true, example: "problems", help: helpProblems, run: (*Bot).problems},
		{name: "break", also: []string{"end trade"}, keeper: true, private: true, example: "break 12", help: helpBreak, run: (*Bot).breakTrade},
		{name: "order", keeper: true, private: true, example: "order newer first", help: helpOrder, run: (*Bot).order},
		{name: "zone", keeper: true, private: true, example: "zone Europe/Lisbon", help: helpZone, run: (*Bot).zone},
		{name: "currency", keeper: true, private: true, example: "currency EUR", help: helpCurrency, run: (*Bot).currency},
		{name: "premium", keeper: true, private: true, example: "premium 2.50", help: helpPremium, run: (*Bot).premium},
		{name: "postage", also: []string{"shipping"}, private: true, example: "postage EU US 13.50 0.90", help: helpPostage, run: (*Bot).postage},
		{name: "ring", keeper: true, private: true, example: "ring 3", help: helpRing, run: (*Bot).ring},
		{name: "lapse", keeper: true, private: true, example: "lapse 3 days", help: helpLapse, run: (*Bot).lapse},
	}
}

// findVerb looks for the longest word of ours that a line begins with, in English, which everybody may speak, and then in the
// language of in. The zero verb is none.
func findVerb(line string, in voice) (found verb, said, rest string) {
	for _, v := range verbs {
		for _, word := range append([]string{v.name}, v.also...) {
			after, ok := cutWord(line, word)
			if ok && len(word) > len(said) {
				found, said, rest = v, word, after
			}
		}
	}
	if found.run != nil || in.Tag() == tongue.English {
		return found, said, rest
	}
	for _, cut := range []func(line, word string) (string, bool){cutWord, cutBare} {
		for _, v := range verbs {
			own := in.command(v.name)
			for _, word := range []string{own, strings.ReplaceAll(own, "-", " ")} {
				after, ok := cut(line, word)
				if ok && len(word) > len(said) {
					found, said, rest = v, word, after
				}
			}
		}
		if found.run != nil {
			break
		}
	}
	return found, said, rest
}

// bare takes the accents off the letters of the languages we speak, for thumbs that leave them out, and makes a phone's
// apostrophe a typewriter's.
var bare = strings.NewReplacer("’", "'", "à", "a", "á", "a", "â", "a", "ä", "a", "ç", "c", "è", "e", "é", "e", "ê", "e", "ë", "e",
	"í", "i", "î", "i", "ï", "i", "ñ", "n", "ó", "o", "ô", "o", "ö", "o", "ù", "u", "ú", "u", "û", "u", "ü", "u", "œ", "oe", "ß", "ss")

// cutBare is cutWord for a line whose word lacks its accents.
func cutBare(line, word string) (rest string, ok bool) {
	word = bare.Replace(word)
	read := ""
	for i, r := range line {
		read += bare.Replace(string(unicode.ToLower(r)))
		switch {
		case read == word:
			return cutWord(word+line[i+utf8.RuneLen(r):], word)
		case !strings.HasPrefix(word, read):
			return "", false
		}
	}
	return "", false
}

// command is what a verb is called in the voice's language: in English as it is typed, in others as its command is called.
func (v voice) command(name string) string {
	if v.Tag() == tongue.English {
		return name
	}
	return v.Name(commandName, english.Commands[name].Name)
}

// line is a line of ours with its verb in the voice's language: "have harbour 82" is "habe harbour 82".
func (v voice) line(english string) string {
	found, said, _ := findVerb(english, voice{})
	if found.run == nil || !strings.EqualFold(said, found.name) {
		return english
	}
	return v.command(found.name) + english[len(said):]
}

// cutWord cuts a word, in any case, off the front of a line.
func cutWord(line, word string) (rest string, ok bool) {
	if len(line) < len(word) || !strings.EqualFold(line[:len(word)], word) {
		return "", false
	}
	rest = line[len(word):]
	if rest != "" && !strings.ContainsRune(" \t:\n", rune(rest[0])) && word != "?" && !endsUnparted(word, rest) {
		return "", false
	}
	return strings.TrimSpace(strings.TrimPrefix(rest, ":")), true
}

// endsUnparted reports whether a word ends where its script does: Japanese has no space between words, and a Latin letter or a
// digit after it begins another.
func endsUnparted(word, rest string) bool {
	last, _ := utf8.DecodeLastRuneInString(word)
	next := rune(rest[0])
	return unicode.In(last, unicode.Han, unicode.Hiragana, unicode.Katakana) && next < utf8.RuneSelf && (unicode.IsLetter(next) || unicode.IsDigit(next))
}

// nearVerb finds the word of ours that a slip of the thumb was meant for: one letter wrong, missing, extra or swapped
// with its neighbour, in a word of at least four. "" when nothing is near.
func nearVerb(word string, in voice) string {
	slip := []rune(bare.Replace(strings.ToLower(word)))
	if len(slip) < 4 || len(slip) > 12 {
		return ""
	}
	for _, v := range verbs {
		for _, known := range append([]string{in.command(v.name), v.name}, v.also...) {
			meant := []rune(bare.Replace(known))
			if len(meant) >= 4 && !strings.Contains(known, " ") && oneSlip(slip, meant) {
				if known == in.command(v.name) {
					return known
				}
				return v.name
			}
		}
	}
	return ""
}

func oneSlip(a, b []rune) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	i := 0
	for i < len(a) && a[i] == b[i] {
		i++
	}
	switch len(b) - len(a) {
	case 0:
		if i == len(a) || slices.Equal(a[i+1:], b[i+1:]) {
			return true
		}
		return i+1 < len(a) && a[i] == b[i+1] && a[i+1] == b[i] && slices.Equal(a[i+2:], b[i+2:])
	case 1:
		return slices.Equal(a[i:], b[i+1:])
	}
	return false
}

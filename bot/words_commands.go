package bot

import (
	"sync"

	"spareounce/bot/tongue"
)

// FormWords is what commands, their fields and their choices are called in one language. A command's name is what members type
// after the slash; its help and its fields' teach the shorthand. The words inside lines stay as they are in every language:
// they are what is typed.
type FormWords struct {
	Commands map[string]Label  // by the verb
	Fields   map[string]Label  // by the field's name
	Choices  map[string]string // by the word they say
	Member   string            // the command on a member: what can they spare that I lack
	Message  string            // the command on a message: take it as my list
}

// Label is a name and a short help, at most 32 and 100 characters.
type Label struct{ Name, Help string }

// Say is the command for a whole line. It is no verb: what it says begins with one.
const Say = "say"

// The kinds of name that stand in the language files beside the sentences.
const (
	commandName = "command"
	fieldName   = "field"
	choiceName  = "choice"
	menuName    = "menu"
)

var allForms = sync.OnceValue(func() map[string]FormWords {
	all := map[string]FormWords{}
	for _, tag := range tongue.Tags() {
		in, _ := tongue.In(tag)
		all[tag] = formWords(in)
	}
	return all
})

// Forms are the words of forms in every language that we speak, by its IETF tag.
func Forms() map[string]FormWords { return allForms() }

// formWords are the English words in another language.
func formWords(in *tongue.Tongue) FormWords {
	labels := func(kind string, all map[string]Label) map[string]Label {
		own := make(map[string]Label, len(all))
		for key, l := range all {
			own[key] = Label{in.Name(kind, l.Name), in.Say(phrase(l.Help))}
		}
		return own
	}
	own := FormWords{
		Commands: labels(commandName, english.Commands), Fields: labels(fieldName, english.Fields), Choices: map[string]string{},
		Member: in.Name(menuName, english.Member), Message: in.Name(menuName, english.Message),
	}
	for word, shown := range english.Choices {
		own.Choices[word] = in.Name(choiceName, shown)
	}
	return own
}

var english = FormWords{
	Member: "Spares that fill my gaps", Message: "Take this as my list",
	Commands: map[string]Label{
		"have":      {"have", "What you own, as you would write it: harbour 82-84, 85 x2"},
		"got":       {"got", "What has come in; adds to what you have: harbour 87"},
		"spare":     {"spare", "What you would let go: harbour 85 bright ask 38"},
		"double":    {"double", "What you have twice, keep one and spare one: harbour 85"},
		"give":      {"give", "What you give away for nothing: bars 1oz"},
		"keep":      {"keep", "Take a piece off your spares; you still have it: harbour 85"},
		"want":      {"want", "What you look for: harbour 82-86, or harbour rest for all you lack"},
		"unwant":    {"unwant", "What you no longer look for: harbour 84"},
		"drop":      {"drop", "What you no longer have: harbour 84"},
		"gaps":      {"gaps", "Your set as a picture, with what is missing; only you see it"},
		"who":       {"who", "Who can spare a piece, and who holds one: harbour 87"},
		"spares":    {"spares", "What a member can spare; yours without a name"},
		"wants":     {"wants", "What a member wants; yours without a name"},
		"scarce":    {"scarce", "The pieces most wanted and least to be had here"},
		"checklist": {"checklist", "What counts as complete for you: by year, without 84 gull, as made"},
		"trades":    {"trades", "The trades you stand in"},
		"trade":     {"trade", "One trade, whole, with its buttons"},
		"accept":    {"accept", "Say yes to a trade; it is agreed when everyone has"},
		"decline":   {"decline", "Say no to a trade"},
		"leave out": {"leave-out", "The same trade without one piece; the others are asked again"},
		"sent":      {"sent", "What you give in an agreed trade is on its way"},
		"arrived":   {"arrived", "What you get in an agreed trade has come, and you have checked it"},
		"undo":      {"undo", "Take back your last change, then the one before"},
		"series":    {"series", "What is collected here, or one series and how to tell its pieces apart"},
		"mute":      {"mute", "No notices of matches: in one series, or at all"},
		"unmute":    {"unmute", "Let notices of matches through again"},
		"quiet":     {"quiet", "Hours in which you are told nothing: 22-7, or off"},
		"digest":    {"digest", "Matches once a day instead of at once: 18:30, or off"},
		"seen":      {"seen", "Whether you may be named as the holder of a piece you do not spare"},
		"reach":     {"reach", "How you may be written to unasked: by message, in a thread, or not until your next visit"},
		"topup":     {"topup", "The most you would pay to even up a trade: 20"},
		"leave":     {"leave", "Leave the group: proposals end, spares and wants come down"},
		"help":      {"help", "What can be said, or more about one word"},
		"spot":      {"spot", "The silver price here, how old it is and who said it; a keeper sets it: 31.20"},
		"begin":     {"begin", "First steps for a keeper: channel, clock, money, keepers, series"},
		"import":    {"import", "Add a series, or correct one, from a series file"},
		"export":    {"export", "A series as a file, to correct and import"},
		"zone":      {"zone", "The group's time zone: Europe/Lisbon"},
		"currency":  {"currency", "The money the group counts in: EUR"},
		"premium":   {"premium", "What the group usually pays above melt for an ounce: 2.50"},
		"ring":      {"ring", "How many members may stand in one ring"},
		"lapse":     {"lapse", "How long members have to answer a proposal: 3 days"},
		"offer":     {"offer", "A trade of your own making: lantern 84 for lantern 88 plus 5"},
		"counter":   {"counter", "Other pieces or money in a trade of two; the other is asked again"},
		"checked":   {"checked", "What you got is checked and accepted; your lists move"},
		"problem":   {"problem", "Something is wrong with what you were to get; sender and keepers are told"},
		"paid":      {"paid", "You have paid what you owe in a trade"},
		"money":     {"money", "The money you are owed in a trade has come"},
		"passed on": {"passed-on", "Who stands in the middle of a trade has sent everything on"},
		"history":   {"history", "What happened to a trade, and how its terms changed"},
		"ledger":    {"ledger", "What came and went by trade in a year, with its value on the day"},
		"standing":  {"standing", "How many trades a member completed, and how many parcels went out on time"},
		"upgrade":   {"upgrade", "A better example of a piece you have: harbour 84 bright"},
		"problems":  {"problems", "The agreed trades that are stuck: who waits for whom"},
		"break":     {"break", "End an agreed trade that can't be saved"},
		"order":     {"order", "Who sends first: together, newer first, or middle and a trusted member's name"},
		"region":    {"region", "From and to where your parcels go: EU"},
		"postage":   {"postage", "What parcels cost between regions; a keeper sets it: EU US 13.50 0.90"},
		"round":     {"round", "The next round, in which all who are in are cleared together: in, or out"},
		"why":       {"why", "Why a want of yours has no trade: harbour 84"},
		"hunt":      {"hunt", "What you lack, as a list to take along and to print: harbour"},
		"bin":       {"bin", "What lies in a dealer's bin and what to buy: harbour 84 x3 @62, 87 @75 budget 300"},
		"useful":    {"useful", "The pieces that would open the most trades here if any member bought one"},
		"luck":      {"luck", "How many more random pieces it takes to finish a set: harbour"},
		"check":     {"check", "What weight and size, or weight dry and in water, say of a piece: 31.10 dry 28.14 wet"},
		"scale":     {"scale", "Hold your scale against 20 to 50 equal coins: 50 x US 5c 249.8"},
		"meet":      {"meet", "The next evening in person: who comes, what you bring, your tables; meet yes"},
		"language":  {"language", "The language you are answered in; for a keeper, also that of posts to the group"},
		"numbers":   {"numbers", "How you read numbers, as a language tag: de-CH"},
		"week":      {"week", "What the weekly post would say now, to you alone"},
		"weekly":    {"weekly", "When the weekly post comes; a keeper sets it: Monday 18:00"},
		"counted":   {"counted", "Whether what you hold counts in the group's totals"},
		"feed":      {"feed", "Where the silver price is read: an address, and where in its answer the price stands"},
		"prices":    {"prices", "What a price must be like to be taken: stale 24 hours, jump 20, band 20-90"},
		"forget":    {"forget", "Delete what you told the bot here, and what you are called; it asks first"},
		"melt":      {"melt", "What the metal you hold is worth, against a week ago and what you paid"},
		"premiums":  {"premiums", "What pieces fetched above melt here, from trades and purchases"},
		"cost":      {"cost", "What you paid above melt, and the price at which that is made up"},
		"year":      {"year", "What silver cost in a piece's year, beside now: lantern 84"},
		Say:         {"say", "A whole line, as you would type it: have harbour 82-84, 85 x2"},
	},
	Fields: map[string]Label{
		"pieces":    {"pieces", "82-84, 85 x2, ND, all but 83, rest; a series' word first: harbour 82. Empty for a form"},
		"condition": {"condition", "What state all of them are in"},
		"cost":      {"cost", "What one cost: 62"},
		"ask":       {"ask", "What you ask for each: 38 or 38.50"},
		"note":      {"note", "A few words others see: small nick on the rim"},
		"file":      {"file", "A text or CSV file instead: a list, or columns series, piece, count"},
		"least":     {"least", "The least state you would take"},
		"upto":      {"upto", "The most you would give for each: 45"},
		"urgency":   {"urgency", "How soon you would like it"},
		"series":    {"series", "The word for a series, such as harbour"},
		"member":    {"member", "A name, or its beginning"},
		"trade":     {"trade", "The number of a trade, such as 12"},
		"piece":     {"piece", "A piece of the trade, such as harbour 85"},
		"change":    {"change", "by year, without 84 gull, with 1/10oz 85, 84 gull for 84 heron, as made"},
		"hours":     {"hours", "22-7, or off"},
		"at":        {"at", "18:30, or off"},
		"show":      {"show", "on or off"},
		"how":       {"how", "The way"},
		"amount":    {"amount", "An amount in the group's money, such as 20"},
		"price":     {"price", "Only a keeper: the price of a troy ounce, such as 31.20"},
		"about":     {"about", "A word, or shorthand, or all"},
		"zone":      {"zone", "An IANA name, such as Europe/Lisbon"},
		"currency":  {"currency", "A code of ISO 4217, such as EUR"},
		"members":   {"members", "2 for swaps only, 3 for rings of three at once, 4 and 5 for longer rings in rounds"},
		"time":      {"time", "3 days, or 36 hours; at most 30 days"},
		"terms":     {"terms", "Yours, then theirs: lantern 84 for lantern 88, 89 plus 5; or lantern 84 for nothing"},
		"by":        {"by", "The carrier and the number, for the receiver's eyes: Northpost AB 123"},
		"what":      {"what", "What is wrong"},
		"year":      {"year", "Such as 2026"},
		"as":        {"as", "As a file to keep"},
		"order":     {"order", "together, newer first, or middle and a name"},
		"when":      {"when", "Monday 18:00, Monday 18:00 wait, or off"},
		"count":     {"count", "on or off"},
		"source":    {"source", "https://prices.example/latest at /rates/XAG inverse, or drop 1"},
		"rule":      {"rule", "stale 24 hours, jump 20, band 20-90, or every 1 hour"},
		"for":       {"for", "Only a keeper: for what is said to the whole group"},
		"language":  {"language", "A language, or what your chat is set to"},
		"words":     {"words", "What to say after the word"},
		"line":      {"line", "want harbour rest"},
	},
	Choices: map[string]string{
		"sealed": "sealed", "bright": "bright", "toned": "toned", "marked": "marked", "damaged": "damaged",
		"soon": "soon", "someday": "someday", "on": "on", "off": "off", "2": "2", "3": "3", "4": "4", "5": "5",
		"en": "English", "de": "Deutsch", "es": "Español", "fr": "Français", "ja": "日本語",
		"group": "the whole group", "auto": "as my chat is set",
		"not arrived":      "not arrived",
		"not as described": "not as described",
		"wrong piece":      "wrong piece",
		"file":             "a file",
		"message":          "by private message", "thread": "in a private thread here", "visit": "not until my next visit",
	},
}

package bot

import (
	"slices"
	"strings"
)

// Command is one verb as a chat with forms shows it: a name, and a field for each thing that may be said after it. What is
// filled in makes the line that a member could have typed, so there is still one way in.
type Command struct {
	Name    string // the verb, "leave out"
	Keeper  bool   // only for who runs the group
	Private bool   // its answer is for the speaker alone
	List    bool   // takes pieces, perhaps many
	Help    string // in a sentence or two
	Fields  []Field
}

// Field is one thing that may be said after a verb.
type Field struct {
	Name     string
	Kind     FieldKind
	Required bool
	Before   string   // the word that stands before it in the line, "ask"
	Choices  []string // all that may be said, for OneOf
	Offers   []string // some of what may be said, for Free

	KeeperOffers []string // more of it, for who runs the group
}

// FieldKind says what a field takes, and so what can be offered while it is typed.
type FieldKind int

// The kinds of field.
const (
	Free        FieldKind = iota // any words
	PieceList                    // a list in the shorthand
	SeriesCode                   // the code of a series
	MemberName                   // the name of a member
	TradeNumber                  // the number of an open trade of the speaker
	WholeNumber                  // such as a year
	ZoneName                     // an IANA time zone
	VerbWord                     // a word of ours
	OneOf                        // one of the choices
	TextFile                     // a text file, whose content stands for the words
)

var (
	fieldPieces    = Field{Name: "pieces", Kind: PieceList}
	fieldCondition = Field{Name: "condition", Kind: OneOf, Choices: []string{"sealed", "bright", "toned", "marked", "damaged"}}
	fieldNote      = Field{Name: "note", Before: "note"}
	fieldFile      = Field{Name: "file", Kind: TextFile}
	fieldSeries    = Field{Name: "series", Kind: SeriesCode}
	fieldMember    = Field{Name: "member", Kind: MemberName}
	fieldTrade     = Field{Name: "trade", Kind: TradeNumber, Required: true}
)

func required(f Field) Field { f.Required = true; return f }

// forms says which fields a verb has. A verb that is not here has one field for whatever follows it.
var forms = map[string][]Field{
	"have":   {fieldPieces, fieldCondition, fieldNote, fieldFile},
	"got":    {fieldPieces, fieldCondition, {Name: "cost", Before: "@"}, fieldNote, fieldFile},
	"spare":  {fieldPieces, fieldCondition, {Name: "ask", Before: "ask"}, fieldNote, fieldFile},
	"double": {fieldPieces, fieldCondition, {Name: "ask", Before: "ask"}, fieldNote, fieldFile},
	"give":   {fieldPieces, fieldCondition, fieldNote, fieldFile},
	"want": {
		fieldPieces, {Name: "least", Kind: OneOf, Before: "least", Choices: fieldCondition.Choices}, {Name: "upto", Before: "up to"},
		{Name: "urgency", Kind: OneOf, Choices: []string{"soon", "someday"}}, fieldNote, fieldFile,
	},
	"keep": {fieldPieces, fieldFile}, "unwant": {fieldPieces, fieldFile}, "drop": {fieldPieces, fieldCondition, fieldFile}, "who": {required(fieldPieces)}, "why": {required(fieldPieces)},
	"gaps": {fieldSeries}, "scarce": {fieldSeries}, "series": {fieldSeries}, "mute": {fieldSeries}, "unmute": {fieldSeries},
	"export": {required(fieldSeries)}, "checklist": {required(fieldSeries), {Name: "change"}},
	"spares": {fieldMember}, "wants": {fieldMember},
	"trades": {}, "undo": {}, "leave": {}, "forget": {}, "begin": {}, "problems": {}, "week": {},
	"melt": {fieldSeries}, "cost": {fieldSeries}, "premiums": {fieldSeries}, "year": {required(fieldPieces)},
	"trade": {fieldTrade}, "accept": {fieldTrade}, "decline": {fieldTrade}, "arrived": {fieldTrade}, "checked": {fieldTrade},
	"passed on": {fieldTrade}, "history": {fieldTrade}, "break": {fieldTrade}, "paid": {fieldTrade, fieldMember}, "money": {fieldTrade, fieldMember},
	"sent": {fieldTrade, {Name: "by", Before: "by"}}, "leave out": {fieldTrade, {Name: "piece", Required: true}},
	"problem": {fieldTrade, {Name: "what", Kind: OneOf, Required: true, Choices: []string{"not arrived", "not as described", "wrong piece"}}},
	"offer":   {required(fieldMember), {Name: "terms", Required: true}}, "counter": {fieldTrade, {Name: "terms", Required: true}},
	"ledger": {{Name: "year", Kind: WholeNumber}, {Name: "as", Kind: OneOf, Choices: []string{"file"}}}, "standing": {fieldMember},
	"order": {{Name: "order", Required: true}}, "luck": {fieldSeries}, "hunt": {fieldSeries}, "useful": {},
	"quiet": {{Name: "hours", Required: true}}, "digest": {{Name: "at", Required: true}},
	"seen":  {{Name: "show", Kind: OneOf, Required: true, Choices: []string{"on", "off"}}},
	"reach": {{Name: "how", Kind: OneOf, Required: true, Choices: []string{"message", "thread", "visit"}}},
	"topup": {{Name: "amount"}}, "premium": {{Name: "amount", Required: true}}, "spot": {{Name: "price"}},
	"help":   {{Name: "about", Kind: VerbWord}},
	"weekly": {{Name: "when"}}, "counted": {{Name: "count", Kind: OneOf, Required: true, Choices: []string{"on", "off"}}},
	"feed": {{Name: "source"}}, "prices": {{Name: "rule"}},
	"language": {{Name: "for", Kind: OneOf, Choices: []string{"group"}}, {Name: "language", Kind: OneOf, Choices: []string{"en", "de", "es", "fr", "ja", "auto"}}},
	"import":   {fieldFile}, "zone": {{Name: "zone", Kind: ZoneName, Required: true}}, "currency": {{Name: "currency", Required: true}},
	"ring":  {{Name: "members", Kind: OneOf, Required: true, Choices: []string{"2", "3", "4", "5"}}},
	"round": {{Name: "words"}},
	"lapse": {{Name: "time", Required: true}},
}

// fieldWords is the field of a verb that has no form of its own.
var fieldWords = Field{Name: "words"}

// Commands lists every verb as a form, in the order in which help lists them.
func Commands() []Command {
	all := make([]Command, len(verbs))
	for i, v := range verbs {
		fields, ok := forms[v.name]
		switch {
		case ok:
		case v.list:
			fields = []Field{fieldPieces, fieldFile}
		default:
			fields = []Field{fieldWords}
		}
		all[i] = Command{Name: v.name, Keeper: v.keeper, Private: v.private, List: v.list, Help: v.help.With(), Fields: withOffers(v.name, fields)}
	}
	return all
}

// Line is the line that what is filled in makes. What is said about pieces is said of each of them. A file's content
// stands with the pieces.
func (c Command) Line(filled map[string]string) string {
	parts := []string{c.Name}
	var about []string
	for _, f := range c.Fields {
		value := strings.TrimSpace(filled[f.Name])
		switch {
		case value == "":
		case c.List && f.Kind != PieceList && f.Kind != TextFile:
			about = append(about, strings.TrimSpace(f.Before+" "+value))
		case f.Kind == TextFile && c.List && len(parts) > 1:
			parts = append(parts[:1], strings.Join(parts[1:], " ")+",", value)
		default:
			parts = append(parts, strings.TrimSpace(f.Before+" "+value))
		}
	}
	if c.List && len(parts) == 1 {
		return c.Name
	}
	if len(about) > 0 {
		slices.SortStableFunc(about, noteLast)
		parts = append(append(parts, "each"), about...)
	}
	return strings.Join(parts, " ")
}

// noteLast puts a note behind everything else, for it goes on to the end of the line.
func noteLast(a, b string) int {
	isNote := func(s string) int {
		if strings.HasPrefix(s, "note ") {
			return 1
		}
		return 0
	}
	return isNote(a) - isNote(b)
}

package bot

// offers are words that may follow a verb: they are shown while something is typed after it, and anything else may be typed
// too.
type offers struct {
	all     []string
	keepers []string // only to who runs the group
}

// offered says what is offered in a verb's first field of free words.
var offered = map[string]offers{
	"meet":    {all: []string{"yes", "no"}, keepers: []string{"on ", "plan", "off"}},
	"round":   {all: []string{"in", "out"}, keepers: []string{"friday 18:00", "now", "every 0 18 * * 5", "off"}},
	"quiet":   {all: []string{"22-7", "off"}},
	"digest":  {all: []string{"18:30", "off"}},
	"weekly":  {keepers: []string{"Monday 18:00", "Monday 18:00 wait", "off"}},
	"spot":    {keepers: []string{"confirm"}},
	"prices":  {all: []string{"past"}, keepers: []string{"stale 24 hours", "jump 20", "band 20-90", "every 1 hour"}},
	"order":   {keepers: []string{"together", "newer first", "middle "}},
	"lapse":   {keepers: []string{"24 hours", "36 hours", "3 days", "7 days"}},
	"numbers": {all: []string{"en-US", "en-GB", "de-DE", "de-CH", "es-ES", "fr-FR", "ja-JP"}},
}

// withOffers gives a verb's first field of free words what is offered for it.
func withOffers(verb string, fields []Field) []Field {
	o, ok := offered[verb]
	if !ok {
		return fields
	}
	with := append([]Field(nil), fields...)
	for i := range with {
		if with[i].Kind == Free {
			with[i].Offers, with[i].KeeperOffers = o.all, o.keepers
			break
		}
	}
	return with
}

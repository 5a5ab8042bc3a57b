// Package tongue says our phrases in the languages we speak. A phrase is written in English where it is used; every other
// language is one file of its own here, in the PO format of GNU gettext, which any translator's editor opens.
//
// Callers may rely on this: Say never fails and never says nothing. What a language lacks is said in English; the tests see
// to it that it lacks nothing, and that every phrase has the same places in every language.
package tongue

import (
	"embed"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"github.com/leonelquinteros/gotext"
)

//go:embed *.po
var files embed.FS

// Phrase is a sentence of ours, or a part of one, in English, with {named} places in it.
type Phrase string

// With fills the places in English, given as name and value in turn.
func (p Phrase) With(pairs ...any) string { return fill(string(p), pairs) }

func fill(text string, pairs []any) string {
	if len(pairs) == 0 {
		return text
	}
	places := make([]string, 0, len(pairs))
	for i := 0; i+1 < len(pairs); i += 2 {
		places = append(places, "{"+pairs[i].(string)+"}", fmt.Sprint(pairs[i+1]))
	}
	return strings.NewReplacer(places...).Replace(text)
}

// Tongue is one language that we speak. The nil Tongue is English.
type Tongue struct {
	tag     string
	phrases map[Phrase]string
	names   map[Named]string
}

// Named is a name of one kind, such as a command's, in English. A name stands in a file with its kind as the context.
type Named struct{ Kind, Name string }

// English is the tag of the language that phrases are written in.
const English = "en"

// spoken are the languages that have a file, by tag, read when somebody first speaks one. A file that can't be read is a mistake
// of ours, which the tests find.
var spoken = sync.OnceValue(read)

func read() map[string]*Tongue {
	all := map[string]*Tongue{}
	entries, err := files.ReadDir(".")
	if err != nil {
		panic(err)
	}
	for _, e := range entries {
		text, err := files.ReadFile(e.Name())
		if err != nil {
			panic(err)
		}
		tag := strings.TrimSuffix(e.Name(), ".po")
		po := gotext.NewPo()
		po.Parse(text)
		t := &Tongue{tag: tag, phrases: map[Phrase]string{}, names: map[Named]string{}}
		for id, said := range po.GetDomain().GetTranslations() {
			if id != "" && said.IsTranslated() {
				t.phrases[Phrase(id)] = said.Get()
			}
		}
		for kind, names := range po.GetDomain().GetCtxTranslations() {
			for id, said := range names {
				if said.IsTranslated() {
					t.names[Named{kind, id}] = said.Get()
				}
			}
		}
		all[tag] = t
	}
	return all
}

// Tags are the languages that we speak, English first, the others in order.
func Tags() []string {
	return append([]string{English}, slices.Sorted(maps.Keys(spoken()))...)
}

// In is the language for an IETF language tag (BCP 47), "es-419" or "de_CH": the language alone decides. known is false for
// a language that we don't speak, which is answered in English.
func In(tag string) (t *Tongue, known bool) {
	language, _, _ := strings.Cut(strings.ToLower(strings.ReplaceAll(tag, "_", "-")), "-")
	if language == English || language == "" {
		return nil, language == English
	}
	t = spoken()[language]
	return t, t != nil
}

// Tag is the language's tag, "de".
func (t *Tongue) Tag() string {
	if t == nil {
		return English
	}
	return t.tag
}

// Say says a phrase in the language, its places filled with pairs, name and value in turn.
func (t *Tongue) Say(p Phrase, pairs ...any) string {
	if t != nil {
		if said, ok := t.phrases[p]; ok {
			return fill(said, pairs)
		}
	}
	return fill(string(p), pairs)
}

// Name is what something of a kind is called in the language.
func (t *Tongue) Name(kind, english string) string {
	if t != nil {
		if own, ok := t.names[Named{kind, english}]; ok {
			return own
		}
	}
	return english
}

// Names are what the language has names for, by kind and English.
func (t *Tongue) Names() map[Named]string {
	if t == nil {
		return nil
	}
	return maps.Clone(t.names)
}

// Phrases are what the language says of its own, by the English.
func (t *Tongue) Phrases() map[Phrase]string {
	if t == nil {
		return nil
	}
	return maps.Clone(t.phrases)
}

package bot

import (
	"context"
	"strings"

	"spareounce/bot/tongue"
)

// language says in which language the speaker is answered, or sets it: "language de", "language auto" for what their chat is set
// to. A keeper sets that of what is said to the whole group: "language group de".
func (b *Bot) language(ctx context.Context, t turn) (Reply, error) {
	words := strings.Fields(t.rest)
	forGroup := len(words) > 0 && strings.EqualFold(words[0], "group")
	if forGroup {
		words = words[1:]
	}
	switch {
	case len(words) == 0 && forGroup:
		return Reply{Text: t.Say(languageOfGroup, "language", ownName(t.group.Language))}, nil
	case forGroup && !t.speaker.Keeper:
		return Reply{}, sentence(t.Say(keepersOnly, "verb", t.command("language")+" group"))
	case len(words) == 0:
		return Reply{Text: t.Say(languageIs, "language", t.Say(thisLanguage), "all", t.And(ownNames()))}, nil
	}
	tag, ok := readLanguage(words[0])
	switch {
	case !ok || len(words) > 1 || tag == "" && forGroup:
		return Reply{}, pointed{strings.Index(t.rest, words[0]), strings.Join(words, " "), t.Say(languageUnread, "all", t.Or(tongue.Tags()))}
	case forGroup:
		g := t.group
		g.Language = tag
		return Reply{Text: t.Say(languageOfGroup, "language", ownName(tag))}, b.store.SaveGroup(ctx, g)
	}
	m := t.speaker
	m.Chosen = tag
	in := voiceFor(m.Language())
	return in.spoken(Reply{Text: in.Say(languageIs, "language", in.Say(thisLanguage), "all", in.And(ownNames()))}), b.store.SaveMember(ctx, m)
}

// readLanguage reads a language by its tag or by what it calls itself; "" is the chat's own.
func readLanguage(word string) (tag string, ok bool) {
	if strings.EqualFold(word, "auto") {
		return "", true
	}
	for _, tag := range tongue.Tags() {
		if strings.EqualFold(word, ownName(tag)) {
			return tag, true
		}
	}
	t, known := tongue.In(word)
	return t.Tag(), known
}

// ownName is what a language calls itself.
func ownName(tag string) string { return voiceFor(tag).Say(thisLanguage) }

func ownNames() (names []string) {
	for _, tag := range tongue.Tags() {
		names = append(names, ownName(tag))
	}
	return names
}

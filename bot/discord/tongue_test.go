package discord

import (
	"strings"
	"testing"

	"spareounce/bot"
	"spareounce/bot/chattest"
	"spareounce/bot/tongue"
)

// TestEachIsAnsweredInTheirLanguage: members are answered in what their chat is set to, or in what they chose; each is told in
// their own; and what the chat adds of its own, such as a button that is not theirs, is in theirs as well.
func TestEachIsAnsweredInTheirLanguage(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	lars, cho, ann := tb.guild.Member("lars"), tb.guild.Member("cho"), tb.guild.Member("ann")
	lars.Locale, cho.Locale, ann.Locale = "de", "ja", "en-GB"
	for _, m := range []*chattest.Member{lars, cho, ann} {
		m.Slash(tb.channel, "reach", chattest.Values{"how": "message"}).Answer()
	}
	in := func(tag, english string) string {
		t.Helper()
		said := bot.Words(tag, tongue.Phrase(english), "name", "lars", "list", "lantern 84")
		if tag != "en" && said == bot.Words("en", tongue.Phrase(english), "name", "lars", "list", "lantern 84") {
			t.Errorf("%s says %q in English", tag, english)
		}
		return said
	}
	said := lars.Slash(tb.channel, "double", chattest.Values{"pieces": "lantern 84"}).Answer()
	if want := in("de", "{name} can spare {list}."); said.Content != want {
		t.Errorf("said %q, want %q", said.Content, want)
	}
	cho.Slash(tb.channel, "want", chattest.Values{"pieces": "lantern 84"}).Answer()
	cho.Await(has(in("ja", "{name} can spare {list}, which you want.")))
	who := ann.Slash(tb.channel, "who", chattest.Values{"pieces": "lantern 84"}).Answer()
	if not := lars.Press(who, who.Buttons()[0].Label).Answer(); !not.Ephemeral || strings.Contains(not.Content, "That button") || !strings.Contains(not.Content, "ann") {
		t.Errorf("who reads German is told of ann's button: %q", not.Content)
	}
	cho.Slash(tb.channel, "language", chattest.Values{"language": "fr"}).Answer()
	said = cho.Slash(tb.channel, "trades", nil).Answer()
	if want := in("fr", "You stand in no open trade. I propose one as soon as spares and wants fit."); said.Content != want {
		t.Errorf("who chose French is told %q, want %q", said.Content, want)
	}
	if said = ann.Slash(tb.channel, "trades", nil).Answer(); !strings.HasPrefix(said.Content, "You stand in no open trade") {
		t.Error(said.Content)
	}
}

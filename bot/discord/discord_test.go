package discord

import (
	"strings"
	"testing"

	"spareounce/bot/chattest"
	"spareounce/match/series"
)

type seriesOf = series.Series

func TestAMemberTypesAndIsAnswered(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann, bo := tb.guild.Member("ann"), tb.guild.Member("bo")
	said := ann.Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 84", "condition": "bright", "ask": "38"}).Answer()
	if said.Content != "ann can spare lantern 84 bright ask USD 38.00." || said.Ephemeral {
		t.Errorf("%+v", said)
	}
	said = bo.Slash(tb.channel, "who", chattest.Values{"pieces": "lantern 84"}).Answer()
	if said.Text() != "lantern 84: ann bright ask USD 38.00.\n[I want it]" {
		t.Error(said.Text())
	}
	if not := ann.Press(said, "I want it").Answer(); !not.Ephemeral || !strings.Contains(not.Content, "That button is for bo") {
		t.Error(not.Text())
	}
	if is := bo.Press(said, "I want it").Answer(); is.Content != "bo wants lantern 84." {
		t.Error(is.Text())
	}
	card := ann.Slash(tb.channel, "gaps", chattest.Values{"series": "lantern"}).Answer()
	if !card.V2 || !card.Ephemeral || len(card.Attachments) != 1 || card.Attachments[0].Description == "" {
		t.Errorf("%+v", card)
	}
}

package discord

import (
	"fmt"
	"strings"
	"testing"

	"spareounce/bot"
	"spareounce/bot/chattest"
)

// TestFirstSteps has a keeper choose the channel, a role and threads, and read exactly what the bot lacks and where.
func TestFirstSteps(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	keeper, ann := tb.guild.Owner, tb.guild.Member("ann")
	begin := keeper.Slash(tb.channel, "begin", nil).Answer()
	for _, want := range []string{"Clock: UTC", "Money: USD", "Silver: Nobody has set", "Series: almanac", "no channel chosen yet", "who may manage the server", "I open no threads", "[Allow private threads]"} {
		if !has(want)(begin) {
			t.Errorf("nothing says %q:\n%s", want, begin.Text())
		}
	}
	trades := tb.guild.Channel("trades")
	trades.Deny(tb.ApplicationID(), chattest.AttachFiles)
	if said := keeper.Choose(begin, "Where posts to the whole group go", trades).Answer(); !has("would go to #trades, but")(said) || !has("In #trades I lack: Attach Files.")(said) {
		t.Error(said.Text())
	}
	if said := keeper.Choose(begin, "Where posts to the whole group go", tb.channel).Answer(); !has("go to #general. Everything I need there is allowed.")(said) {
		t.Error(said.Text())
	}
	role := tb.guild.Role("stewards", 0)
	if said := keeper.Choose(begin, "Which role keeps the group too", role).Answer(); !has("Who has the role stewards keeps this group too.")(said) {
		t.Error(said.Text())
	}
	tb.channel.Deny(tb.ApplicationID(), chattest.CreatePrivateThreads)
	if said := keeper.Press(begin, "Allow private threads").Answer(); !has("In #general I lack: Create Private Threads.")(said) {
		t.Error(said.Text())
	}
	if said := ann.Slash(tb.channel, "say", chattest.Values{"line": "zone Europe/Lisbon"}).Answer(); !has("Only a keeper of this group")(said) {
		t.Error(said.Text())
	}
	role.Give(ann)
	if said := ann.Slash(tb.channel, "say", chattest.Values{"line": "zone Europe/Lisbon"}).Answer(); !has("The group's clock is Europe/Lisbon")(said) {
		t.Error(said.Text())
	}
	again := keeper.Slash(tb.channel, "begin", nil).Answer()
	for _, want := range []string{"Clock: Europe/Lisbon", "Posts to the whole group: #general.", "the role stewards", "In #general I lack: Create Private Threads.", "[No private threads]"} {
		if !has(want)(again) {
			t.Errorf("nothing says %q:\n%s", want, again.Text())
		}
	}
}

// TestALongListInAForm leaves the pieces away: a form opens, keeps what was filled in, and its text is heard.
func TestALongListInAForm(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann := tb.guild.Member("ann")
	form := ann.Slash(tb.channel, "have", chattest.Values{"condition": "bright"}).Modal()
	if form.Title != "have: a long list" || len(form.Fields) != 1 {
		t.Fatalf("%+v", form)
	}
	said := ann.Submit(form, chattest.Values{"text": "lantern 82-84\nharbour 85"}).Answer()
	if !has("lantern: 3 of 9")(said) || !has("harbour: 1 of ")(said) {
		t.Error(said.Text())
	}
	if spares := ann.Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 82"}).Answer(); !has("bright")(spares) {
		t.Error(spares.Text()) // the row that is there is the bright one
	}
}

// TestFilesAreRead attaches lists as people keep them, and what is no list.
func TestFilesAreRead(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann := tb.guild.Member("ann")
	for _, c := range []struct {
		file chattest.File
		says string
	}{
		{chattest.File{Name: "haves.csv", Type: "text/csv", Data: []byte("Series,Piece,Count,Condition\nlantern,84,2,toned\nlantern,ND,1,\n")}, "lantern: 2 of 9, missing 82, 83, 85-89"},
		{chattest.File{Name: "haves.txt", Type: "text/plain; charset=utf-8", Data: []byte("- harbour 85\n- harbour 86\n")}, "harbour: 2 of "},
		{chattest.File{Name: "haves.csv", Type: "text/csv", Data: []byte("\xef\xbb\xbfharbour;87\r\n")}, "harbour: 3 of "},
		{chattest.File{Name: "haves.png", Type: "image/png", Data: []byte("\x89PNG")}, "is not a text or CSV file"},
		{chattest.File{Name: "big.txt", Type: "text/plain", Data: []byte("x"), Size: mostFile + 1024}, "has 257 kB, and 256 kB can be read at once"},
		{chattest.File{Name: "liar.txt", Type: "text/plain", Data: []byte(strings.Repeat("x", mostFile+10)), Size: 10}, "256 kB can be read at once"},
		{chattest.File{Name: "other.txt", Type: "text/plain", Data: []byte("harbour 85"), Host: "files.example"}, "does not come from where the chat keeps its files"},
		{chattest.File{Name: "latin.txt", Type: "text/plain", Data: []byte("h\xe4rbour 85")}, "is not text in UTF-8"},
	} {
		if said := ann.Slash(tb.channel, "have", chattest.Values{"file": c.file}).Answer(); !has(c.says)(said) {
			t.Errorf("%s: %s", c.file.Name, said.Text())
		}
	}
	tb.Fail("GET /ephemeral-attachments/**", -1, chattest.Status(500))
	if said := ann.Slash(tb.channel, "have", chattest.Values{"file": chattest.File{Name: "a.txt", Type: "text/plain", Data: []byte("x")}}).Answer(); !has("could not be fetched")(said) {
		t.Error(said.Text())
	}
}

// TestMenus uses the commands on a member and on a message: nothing is stored before it is read back.
func TestMenus(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann, bo := tb.guild.Member("ann"), tb.guild.Member("bo")
	bo.Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 84, 85"}).Answer()
	ann.Slash(tb.channel, "have", chattest.Values{"pieces": "lantern 84"}).Answer()
	if said := ann.UseOn(tb.channel, "Spares that fill my gaps", bo).Answer(); said.Content != "bo can spare lantern 85, which you lack." || !said.Ephemeral {
		t.Error(said.Text())
	}
	if said := bo.UseOn(tb.channel, "Spares that fill my gaps", ann).Answer(); !has("ann can spare nothing that you lack.")(said) {
		t.Error(said.Text())
	}
	list := bo.Say(tb.channel, "**My lanterns**\n- FT: lantern 86, 87 x2\n- what a day!\n- harbour 85")
	read := bo.UseOn(tb.channel, "Take this as my list", list).Answer()
	if !has("I read this: lantern 86, 87 x2, harbour 85.")(read) || !has("what a day")(read) || !has("Nothing is stored yet")(read) {
		t.Error(read.Text())
	}
	long := bo.Say(tb.channel, "my haves", chattest.File{Name: "message.txt", Type: "text/plain; charset=utf-8", Data: []byte("lantern 82\nand no more\nharbour 86")},
		chattest.File{Name: "lots.csv", Type: "text/csv", Data: []byte("series,piece,count\nlantern,83,2\n")}, chattest.File{Name: "shelf.png", Type: "image/png", Data: []byte("\x89PNG")})
	if said := bo.UseOn(tb.channel, "Take this as my list", long).Answer(); !has("I read this: lantern 82, harbour 86, lantern 83 x2.")(said) || !has("and no more")(said) {
		t.Error(said.Text())
	}
	if said := bo.Slash(tb.channel, "gaps", nil).Answer(); has("harbour")(said) {
		t.Errorf("stored before it was confirmed: %s", said.Text())
	}
	if said := bo.Press(read, "I have it").Answer(); !has("harbour: 1 of ")(said) {
		t.Error(said.Text())
	}
}

// TestSuggestions types into every kind of field.
func TestSuggestions(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann, bo := tb.guild.Member("ann"), tb.guild.Member("bo")
	for who, lines := range map[*chattest.Member][2]string{ann: {"lantern 84", "lantern 88"}, bo: {"lantern 88", "lantern 84"}} {
		who.Slash(tb.channel, "double", chattest.Values{"pieces": lines[0]}).Answer()
		who.Slash(tb.channel, "want", chattest.Values{"pieces": lines[1]}).Answer()
	}
	tb.settled()
	for _, c := range []struct{ command, field, typed, label, value string }{
		{"gaps", "series", "lan", "lantern: ", "lantern"},
		{"gaps", "series", "Night", "lantern: ", "lantern"},
		{"have", "pieces", "lan", "lantern", "lantern"},
		{"have", "pieces", "lantern 84, 8", "lantern 84, 8", "lantern 84, 8"},
		{"spares", "member", "b", "bo", "bo"},
		{"accept", "trade", "", "1: you give lantern 84", "1"},
		{"help", "about", "wan", "want", "want"},
		{"meet", "words", "", "yes", "yes"},
		{"round", "words", "I", "in", "in"},
		{"quiet", "hours", "o", "off", "off"},
	} {
		found := false
		choices := ann.Complete(tb.channel, c.command, c.field, c.typed, nil).Choices()
		for _, choice := range choices {
			found = found || strings.HasPrefix(choice.Name, c.label) && strings.HasPrefix(fmt.Sprint(choice.Value), c.value)
		}
		if !found {
			t.Errorf("/%s %s: %q offers %v", c.command, c.field, c.typed, choices)
		}
	}
	for who, offers := range map[*chattest.Member]int{ann: 2, tb.guild.Owner: 5} { // what only a keeper may say is offered to keepers
		if n := len(who.Complete(tb.channel, "meet", "words", "", nil).Choices()); n != offers {
			t.Errorf("%s is offered %d words after meet", who.Name, n)
		}
	}
	if zones := tb.guild.Owner.Complete(tb.channel, "zone", "zone", "lisb", nil).Choices(); len(zones) != 1 || zones[0].Value != "Europe/Lisbon" {
		t.Error(zones)
	}
}

// TestInPrivate speaks with the bot alone: for nobody's group, for one's only one, for one of several, and for one that
// has been left.
func TestInPrivate(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann := tb.guild.Member("ann")
	if said := ann.Slash(ann.DM(), "gaps", nil).Answer(); !has("I know you from no group yet")(said) {
		t.Error(said.Text())
	}
	ann.Slash(tb.channel, "have", chattest.Values{"pieces": "lantern 84"}).Answer()
	if said := ann.Slash(ann.DM(), "gaps", nil).Answer(); !has("lantern: 1 of 9")(said) || said.Ephemeral {
		t.Error(said.Text())
	}
	second := tb.Guild("Mill Pond Swaps")
	second.Join(ann)
	ann.Slash(second.Channel("general"), "trades", nil).Answer()
	asked := ann.Slash(ann.DM(), "gaps", nil).Answer()
	if !has("Which one is this for?")(asked) {
		t.Fatal(asked.Text())
	}
	if said := ann.Choose(asked, "Which group", tb.guild.ID).Answer(); !has("lantern: 1 of 9")(said) {
		t.Error(said.Text())
	}
	tb.guild.Leave(ann)
	tb.chat.present.forget(tb.guild.ID + " " + ann.ID)
	if said := ann.Choose(asked, "Which group", tb.guild.ID).Answer(); !has("You are no longer in that group")(said) {
		t.Error(said.Text())
	}
	if _, known, err := tb.bot.Known(t.Context(), tb.guild.ID, ann.ID); known || err != nil {
		t.Error("who has left the server still stands in the group", err)
	}
}

// TestCommandsAreToldOnce starts again with the same commands: they are not told again.
func TestCommandsAreToldOnce(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	told := func() (n int) {
		for _, r := range tb.Requests() {
			if r.Method == "PUT" && strings.HasSuffix(r.Path, "/commands") {
				n++
			}
		}
		return n
	}
	if err := tb.stop(); err != nil {
		t.Fatal(err)
	}
	tb.store, tb.bot, tb.chat, tb.stop = tb.serve(Config{})
	tb.identified(2)
	if told() != 1 {
		t.Errorf("told %d times", told())
	}
	tb.hears("ann")
}

// TestNobodysWordsBecomeFormatting has members called and noting what would format, ping or deceive.
func TestNobodysWordsBecomeFormatting(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ann := tb.guild.Member("ann")
	tb.guild.Nickname(ann, "**Bo** @everyone")
	said := ann.Slash(tb.channel, "spare", chattest.Values{"pieces": "lantern 84", "note": "<@" + ann.ID + "> [Accept](https://evil.example) :star: @here"}).Answer()
	if said.Everyone || len(said.Pinged) > 0 {
		t.Error("somebody was pinged")
	}
	for _, bad := range []string{"**", " <@", "@everyone", "@here", " [Accept]", " :star:"} {
		if strings.Contains(said.Content, bad) {
			t.Errorf("%q stands in %q", bad, said.Content)
		}
	}
}

// TestCommandsThatTheServiceWillNotHear has it refuse our commands for good, and for a while: members are answered all the same,
// and the commands are told as soon as it hears them.
func TestCommandsThatTheServiceWillNotHear(t *testing.T) {
	t.Parallel()
	for name, fault := range map[string]*chattest.Fault{"for good": chattest.Refuse(403, 50001, "Missing Access"), "for a while": chattest.Status(503)} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			tb := prepare(t, 1, chattest.Lenient())
			refused := tb.Fail("PUT /applications/*/commands", -1, fault)
			tb.open().connected()
			refused.Mend()
			if name == "for good" {
				return
			}
			tb.logged("the service knows our commands")
			tb.hears("ann")
		})
	}
}

// TestLabelsFit measures what stands on menus, buttons and forms in every language: what is longer would be refused, with all
// that stands beside it (Discord, Components, Reference).
func TestLabelsFit(t *testing.T) {
	t.Parallel()
	for language := range bot.Forms() {
		for most, words := range map[int][]string{
			45:           {bot.Words(language, bot.ChatModalLabel), bot.Words(language, bot.ChatModalImport), bot.Words(language, bot.ChatModalTitle, "verb", "leave out")},
			longestLabel: {bot.Words(language, bot.ChatThreadsYes), bot.Words(language, bot.ChatThreadsNo)},
			100:          {bot.Words(language, bot.ChatModalHint)},
			150: {
				bot.Words(language, bot.ChatPickChannel), bot.Words(language, bot.ChatPickRole), bot.Words(language, bot.ChatPickGroup),
				bot.Words(language, bot.ChatPickAnswer), bot.Words(language, bot.ChatPickMore),
			},
		} {
			for _, text := range words {
				if n := length(text); n < 1 || n > most {
					t.Errorf("%s: %d of %d in %q", language, n, most, text)
				}
			}
		}
	}
}

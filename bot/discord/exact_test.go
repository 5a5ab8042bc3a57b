package discord

import (
	"bytes"
	"encoding/json"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"spareounce/bot"
	"spareounce/bot/chattest"
)

// agent is how a bot must name itself (Discord, Reference, User Agent).
var agent = regexp.MustCompile(`^DiscordBot \(https?://[^ ,]+, v?[0-9][^ )]*\)( |$)`)

// openPaths are reached by their own token: no other may be shown there.
var openPaths = regexp.MustCompile(`^/api/v10/(interactions/[0-9]+/[^/]+/callback|webhooks/[0-9]+/[^/]+(/messages/@original)?)$`)

// sentRequest is one request as it left us.
type sentRequest struct {
	*http.Request
	body []byte
}

// listen keeps every request that the table's bot makes, once it is seated.
func (tb *table) listen() (all func() []sentRequest) {
	var mu sync.Mutex
	var kept []sentRequest
	tb.hurry = func(s *Service) {
		real := s.door.client.Transport
		s.door.client.Transport = answersOf(func(r *http.Request) (*http.Response, error) {
			body, err := io.ReadAll(r.Body)
			if err != nil {
				return nil, err
			}
			mu.Lock()
			kept = append(kept, sentRequest{r.Clone(r.Context()), body})
			mu.Unlock()
			r.Body = io.NopCloser(bytes.NewReader(body))
			return real.RoundTrip(r)
		})
	}
	return func() []sentRequest { mu.Lock(); defer mu.Unlock(); return slices.Clone(kept) }
}

// TestEveryRequestIsExact has the bot say something in every way that it has, and holds each request to the documentation:
// who it says it is, which token it shows to whom, what kind of body it has, and that nobody is ever pinged.
func TestEveryRequestIsExact(t *testing.T) {
	t.Parallel()
	tb := prepare(t, 2)
	all := tb.listen()
	tb.open()
	tb.connected()
	ann, bo, keeper := tb.guild.Member("ann"), tb.guild.Member("bo"), tb.guild.Owner
	begin := keeper.Slash(tb.channel, "begin", nil).Answer()
	keeper.Choose(begin, "Where posts to the whole group go", tb.channel).Answer()
	keeper.Press(begin, "Allow private threads").Answer()
	ann.Slash(tb.channel, "reach", chattest.Values{"how": "message"}).Answer()
	bo.Slash(tb.channel, "reach", chattest.Values{"how": "thread"}).Answer()
	for who, lines := range map[*chattest.Member][2]string{ann: {"lantern 84", "lantern 88"}, bo: {"lantern 88", "lantern 84"}} {
		who.Slash(tb.channel, "double", chattest.Values{"pieces": lines[0]}).Answer()
		who.Slash(tb.channel, "want", chattest.Values{"pieces": lines[1]}).Answer()
	}
	asked := ann.Await(has("[Accept]"))
	bo.Await(has("[Accept]"))
	ann.Press(asked, "Accept").Answer()
	ann.Complete(tb.channel, "accept", "trade", "", nil).Choices()
	ann.Submit(ann.Slash(tb.channel, "have", nil).Modal(), chattest.Values{"text": "lantern 82"}).Answer()
	ann.Slash(tb.channel, "gaps", chattest.Values{"series": "lantern"}).Answer()
	ann.Slash(tb.channel, "hunt", chattest.Values{"series": "lantern"}).Answer()
	keeper.Slash(tb.channel, "export", chattest.Values{"series": "lantern"}).Answer()
	if err := tb.chat.Post(t.Context(), tb.guild.ID, bot.Reply{Text: "For all."}); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"accept 1", "sent 1", "arrived 1", "checked 1"} { // in a thread of its own, to the end
		for _, who := range []*chattest.Member{ann, bo} {
			who.Slash(tb.channel, "say", chattest.Values{"line": line}).Answer()
		}
		tb.settled()
	}
	tb.settled()
	kinds := map[string]bool{}
	for _, r := range all() {
		tb.isExact(r)
		kinds[r.Method+" "+regexp.MustCompile(`[0-9]{5,}|aW50[^/]+`).ReplaceAllString(strings.TrimPrefix(r.URL.Path, "/api/v10"), "*")] = true
	}
	for _, want := range []string{
		"POST /interactions/*/*/callback", "POST /users/@me/channels", "POST /channels/*/messages", "POST /channels/*/threads",
		"PUT /channels/*/thread-members/*", "PATCH /channels/*/messages/*", "GET /channels/*", "PATCH /channels/*", "GET /guilds/*/roles", "GET /guilds/*/members/*",
	} {
		if !kinds[want] {
			t.Errorf("no %s was seen, only %v", want, kinds)
		}
	}
}

// isExact holds one request to the documentation.
func (tb *table) isExact(r sentRequest) {
	t := tb.t
	t.Helper()
	wrong := func(what string) {
		t.Helper()
		t.Errorf("%s %s: %s\n%.500s", r.Method, r.URL.Path, what, r.body)
	}
	if !agent.MatchString(r.UserAgent()) {
		wrong("it says that it is " + r.UserAgent())
	}
	if want := "Bot " + tb.token; openPaths.MatchString(r.URL.Path) == (r.Header.Get("Authorization") == want) {
		wrong("it shows the token where none is asked for, or none where it is")
	}
	for name := range r.Header {
		if !slices.Contains([]string{"User-Agent", "Authorization", "Content-Type"}, name) {
			wrong("the header " + name)
		}
	}
	if r.URL.RawQuery != "" {
		wrong("a query: " + r.URL.RawQuery)
	}
	if len(r.body) == 0 {
		if r.Method == http.MethodPost || r.Method == http.MethodPatch || r.Header.Get("Content-Type") != "" {
			wrong("no body")
		}
		return
	}
	body, files := tb.parts(r)
	if strings.Contains(string(body), "null") {
		wrong("it says null where it could say nothing")
	}
	var form map[string]any
	if err := json.Unmarshal(body, &form); err != nil {
		return // a list: the commands
	}
	tb.isQuiet(r, form, files, wrong)
}

// isQuiet holds a message in a request to what every message must have.
func (tb *table) isQuiet(r sentRequest, form map[string]any, files map[string]string, wrong func(string)) {
	message := form
	switch kind, _ := form["type"].(float64); {
	case strings.HasSuffix(r.URL.Path, "/callback"):
		if kind != answersMessage {
			return
		}
		message, _ = form["data"].(map[string]any)
	case strings.HasSuffix(r.URL.Path, "/messages") && r.Method == http.MethodPost:
		if nonce, _ := form["nonce"].(string); nonce == "" || len(nonce) > 25 || form["enforce_nonce"] != true {
			wrong("a second copy could not be told from the first")
		}
	case strings.Contains(r.URL.Path, "/messages/"), strings.Contains(r.URL.Path, "/webhooks/"):
	default:
		return
	}
	allowed, _ := message["allowed_mentions"].(map[string]any)
	if parse, ok := allowed["parse"].([]any); !ok || len(parse) > 0 || len(allowed) > 1 {
		wrong("somebody might be pinged")
	}
	listed, _ := message["attachments"].([]any)
	if len(listed) != len(files) {
		wrong("not every file is listed")
	}
	for _, one := range listed {
		a, _ := one.(map[string]any)
		id, _ := a["id"].(string)
		if name, _ := a["filename"].(string); name == "" || files["files["+id+"]"] != name {
			wrong("the list of files names others")
		}
	}
}

// parts takes a body apart: its JSON, and the names of its files by the names of their parts.
func (tb *table) parts(r sentRequest) (body []byte, files map[string]string) {
	kind, params, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil {
		tb.t.Fatal(err)
	}
	if kind == "application/json" {
		return r.body, nil
	}
	files = map[string]string{}
	for m := multipart.NewReader(bytes.NewReader(r.body), params["boundary"]); ; {
		p, err := m.NextPart()
		if err == io.EOF {
			return body, files
		}
		if err != nil {
			tb.t.Fatal(err)
		}
		if p.FormName() == "payload_json" {
			if body, err = io.ReadAll(p); err != nil || p.Header.Get("Content-Type") != "application/json" {
				tb.t.Error("payload_json is no JSON", err)
			}
			continue
		}
		files[p.FormName()] = p.FileName()
	}
}

// TestTwoGroupsAreToldUnderOneKey posts to two groups under the same key, as the weekly posts of one week are: the service
// knows a nonce by its author alone (Discord, Resources, Message, Create Message), and would return the first to the second.
func TestTwoGroupsAreToldUnderOneKey(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	second := tb.Guild("Mill Pond Swaps")
	place := second.Channel("general")
	eventually(t, "the second group was not heard of", func() bool { return tb.chat.guilds.of(second.ID).name != "" })
	for guild, channel := range map[string]string{tb.guild.ID: tb.channel.ID, second.ID: place.ID} {
		if err := tb.bot.Arrange(t.Context(), guild, func(g *bot.Group) { g.Channel = channel }); err != nil {
			t.Fatal(err)
		}
	}
	for range 2 { // the second time, each is known
		for _, guild := range []string{tb.guild.ID, second.ID} {
			if err := tb.chat.Post(t.Context(), guild, bot.Reply{Text: "The week.", Key: "week 2026-W10"}); err != nil {
				t.Fatal(err)
			}
		}
	}
	ann := tb.guild.Member("ann")
	second.Join(ann)
	for _, channel := range []*chattest.Channel{tb.channel, place} {
		if n := len(ann.Screen(channel)); n != 1 {
			t.Errorf("%d posts in a group that should have one", n)
		}
	}
}

// TestWhatIsTooLargeIsLeftOut says something with files that the service would not take.
func TestWhatIsTooLargeIsLeftOut(t *testing.T) {
	t.Parallel()
	tb := newTable(t).connected()
	ten := make([]byte, mostUpload)
	err := tb.chat.Tell(t.Context(), tb.guild.ID, tb.guild.Member("ann").ID, bot.Reply{Text: "x"})
	if err != nil {
		t.Fatal(err)
	}
	messages, err := tb.chat.compose(t.Context(), tb.guild.ID, "", bot.Reply{Text: "Your year.", Files: []bot.File{
		{Name: "a.csv", Type: "text/csv", Bytes: ten}, {Name: "b.csv", Type: "text/csv", Bytes: append(ten, 0)}, {Name: "c.csv", Type: "text/csv", Bytes: ten}, {Name: "d.csv", Type: "text/csv", Bytes: ten},
	}})
	if err != nil || len(messages) != 1 || len(messages[0].files) != 2 || !strings.Contains(asShown(messages[0].Content), "left out: b.csv, d.csv.") {
		t.Errorf("%+v, %v", messages[0].Attached, err)
	}
	if _, err := tb.chat.post(t.Context(), tb.channel.ID, messages[0]); err != nil {
		t.Error(err)
	}
}

package chattest_test

import (
	"bytes"
	"compress/zlib"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"spareounce/bot/chattest"
)

func identity(change object) object {
	o := object{"token": chattest.Token, "intents": 1, "properties": object{"os": "linux"}}
	for k, v := range change {
		o[k] = v
	}
	return o
}

// Each way of identifying wrongly ends with the close code that the documentation gives for it.
func TestCloseCodes(t *testing.T) {
	for _, s := range []struct {
		name string
		say  func(*bare)
		code int
	}{
		{"unknown opcode", func(b *bare) { b.send(99, nil) }, chattest.CloseUnknownOpcode},
		{"no JSON", func(b *bare) { _ = b.ws.WriteMessage(websocket.TextMessage, []byte("{")) }, chattest.CloseDecode},
		{"more than 4096 bytes", func(b *bare) { b.send(1, words(4096)) }, chattest.CloseDecode},
		{"presence before identifying", func(b *bare) { b.send(3, object{}) }, chattest.CloseNotAuthenticated},
		{"wrong token", func(b *bare) { b.send(2, identity(object{"token": "x"})) }, chattest.CloseBadToken},
		{"identifying twice", func(b *bare) { b.send(2, identity(nil)); b.send(2, identity(nil)) }, chattest.CloseAuthenticated},
		{"shard 1 of 1", func(b *bare) { b.send(2, identity(object{"shard": []int{1, 1}})) }, chattest.CloseBadShard},
		{"too many guilds", func(b *bare) { b.send(2, identity(nil)) }, 0},
		{"no intents", func(b *bare) { b.send(2, identity(object{"intents": nil})) }, chattest.CloseBadIntents},
		{"intents that are none", func(b *bare) { b.send(2, identity(object{"intents": 1 << 30})) }, chattest.CloseBadIntents},
		{"a privileged intent that is off", func(b *bare) { b.send(2, identity(object{"intents": 1 << 15})) }, chattest.CloseDisallowedIntents},
		{"121 payloads", func(b *bare) {
			b.send(2, identity(nil))
			for range 120 {
				b.send(1, nil)
			}
		}, chattest.CloseRateLimited},
	} {
		t.Run(s.name, func(t *testing.T) {
			options := []chattest.Option{chattest.Lenient()}
			if s.code == 0 {
				options, s.code = append(options, chattest.WithShards(2, 0)), chattest.CloseShardingRequired
			}
			srv := chattest.New(t, options...)
			srv.Guild("Larch Lane Collectors")
			b := dial(t, srv, "")
			b.expect(10)
			s.say(b)
			if got := b.closed(); got != s.code {
				t.Errorf("closed with %d, want %d", got, s.code)
			}
		})
	}
	srv := chattest.New(t)
	old := &bare{t: t, srv: srv}
	ws, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(srv.URL(), "http")+"/?v=6", nil)
	if err != nil {
		t.Fatal(err)
	}
	defer ws.Close()
	old.ws = ws
	if got := old.closed(); got != chattest.CloseBadVersion {
		t.Errorf("version 6: closed with %d", got)
	}
}

// What the stand-in does not speak it says, where Discord would speak it.
func TestUnknownEncoding(t *testing.T) {
	srv := chattest.New(t, chattest.Lenient())
	if code := dial(t, srv, "&compress=zstd-stream").closed(); code != chattest.CloseDecode || len(srv.Problems()) != 1 {
		t.Errorf("closed with %d; problems %q", code, srv.Problems())
	}
}

// resume connects anew and takes a session up.
func (b *bare) resume(seq int64) *bare {
	b.t.Helper()
	n := dialAt(b.t, b.srv, b.again, "")
	n.expect(10)
	n.sess, n.again = b.sess, b.again
	n.send(6, object{"token": chattest.Token, "session_id": b.sess, "seq": seq})
	return n
}

// What a session misses while it is away it gets when it resumes, in order and before RESUMED.
func TestResume(t *testing.T) {
	srv := chattest.New(t)
	g := srv.Guild("Larch Lane Collectors")
	b := join(t, srv)
	b.register(cmd(nil))
	b.event("GUILD_CREATE")
	seq := *b.seq
	srv.CutConnections()
	if code := b.closed(); code != -1 {
		t.Errorf("a cut cable gives close code %d", code)
	}
	ann := g.Member("ann")
	first, second := ann.Slash(g.Channel("general"), "want", nil), ann.Slash(g.Channel("general"), "want", nil)
	n := b.resume(seq)
	id1, _, _ := n.interaction()
	id2, _, _ := n.interaction()
	n.event("RESUMED")
	if id1 != first.ID || id2 != second.ID {
		t.Errorf("replayed %s and %s, want %s and %s", id1, id2, first.ID, second.ID)
	}
	if identified, resumed := srv.Identified(); identified != 1 || resumed != 1 {
		t.Errorf("%d identified, %d resumed", identified, resumed)
	}
	far := b.resume(*n.seq + 1000)
	if code := far.closed(); code != chattest.CloseBadSequence {
		t.Errorf("a sequence from the future: %d", code)
	}
	gone := b.resume(seq)
	if p := gone.expect(9); string(p.D) != "false" {
		t.Errorf("a session that is gone: %s", p.D)
	}
}

// What a session misses while it is away is lost to one that begins with IDENTIFY, and when its time is over to itself.
func TestMissedIsLost(t *testing.T) {
	srv := chattest.New(t, chattest.Lenient())
	g := srv.Guild("Larch Lane Collectors")
	b := join(t, srv)
	b.register(cmd(nil))
	seq := *b.seq
	srv.CutConnections()
	b.closed()
	i := g.Member("ann").Slash(g.Channel("general"), "want", nil)
	fresh := join(t, srv)
	srv.Emit("SOMETHING_NEW", object{})
	for {
		p, err := fresh.read()
		if err != nil || p.T == "INTERACTION_CREATE" {
			t.Fatalf("%s, %v", p.T, err)
		}
		if p.T == "SOMETHING_NEW" {
			break
		}
	}
	if i.Reached() {
		t.Error("it reached somebody")
	}
	for srv.Connections() > 1 {
		time.Sleep(time.Millisecond)
	}
	srv.ExpireSessions()
	if p := b.resume(seq).expect(9); string(p.D) != "false" {
		t.Errorf("a session whose time is over: %s", p.D)
	}
}

// A RESUME can be refused for now and for good, and one at the wrong address is noticed.
func TestResumeRefused(t *testing.T) {
	srv := chattest.New(t)
	b := join(t, srv)
	srv.CutConnections()
	b.closed()
	for _, resumable := range []bool{true, false} {
		srv.Fail("GATEWAY /resume", 1, chattest.RefuseResume(resumable))
		if p := b.resume(1).expect(9); string(p.D) != fmt.Sprint(resumable) {
			t.Errorf("%s, want %v", p.D, resumable)
		}
	}
	if p := b.resume(1).expect(9); string(p.D) != "false" {
		t.Errorf("refused for good, and then: %s", p.D)
	}
	b = join(t, srv)
	srv.CutConnections()
	b.closed()
	n := dial(t, srv, "")
	n.expect(10)
	n.send(6, object{"token": chattest.Token, "session_id": b.sess, "seq": 1})
	n.event("RESUMED")
	if srv.Astray() != 1 {
		t.Error("a RESUME at the wrong address was not noticed")
	}
}

// Closing with 1000 ends the session; a cut does not.
func TestCloseEndsSession(t *testing.T) {
	srv := chattest.New(t)
	b := join(t, srv)
	_ = b.ws.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(1000, ""), time.Now().Add(time.Second))
	b.closed()
	b.ws.Close()
	for srv.Connections() > 0 {
		time.Sleep(time.Millisecond)
	}
	if p := b.resume(1).expect(9); string(p.D) != "false" {
		t.Errorf("the session can be resumed after 1000: %s", p.D)
	}
}

// Heartbeats are acknowledged; a client that sends none is closed.
func TestHeartbeat(t *testing.T) {
	srv := chattest.New(t, chattest.WithHeartbeat(50*time.Millisecond))
	b := join(t, srv)
	b.send(1, nil)
	b.expect(11)
	srv.NoAcks(true)
	b.send(1, nil)
	srv.AskHeartbeat()
	b.expect(1)
	if code := b.closed(); code != chattest.CloseUnknown {
		t.Errorf("without heartbeats: closed with %d", code)
	}
	b.resume(1).event("RESUMED")
}

// Both compressions of the gateway carry the same payloads.
func TestCompression(t *testing.T) {
	srv := chattest.New(t)
	srv.Guild("Larch Lane Collectors")
	whole := dial(t, srv, "")
	whole.expect(10)
	whole.send(2, identity(object{"compress": true}))
	kind, data, err := whole.ws.ReadMessage()
	if err != nil || kind != websocket.BinaryMessage {
		t.Fatal(kind, err)
	}
	z, err := zlib.NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	var p payload
	if err := json.NewDecoder(z).Decode(&p); err != nil || p.T != "READY" {
		t.Errorf("got %s, %v", p.T, err)
	}

	stream := dial(t, srv, "&compress=zlib-stream")
	var all bytes.Buffer
	next := func() {
		_, data, err := stream.ws.ReadMessage()
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.HasSuffix(data, []byte{0, 0, 0xff, 0xff}) {
			t.Errorf("a message of the stream does not end with Z_SYNC_FLUSH")
		}
		all.Write(data)
	}
	next()
	stream.send(2, identity(nil))
	next()
	next()
	flat, err := zlib.NewReader(&all)
	if err != nil {
		t.Fatal(err)
	}
	out, _ := io.ReadAll(flat) // the stream has no end yet
	dec := json.NewDecoder(bytes.NewReader(out))
	for _, want := range []string{"", "READY", "GUILD_CREATE"} {
		var p payload
		if err := dec.Decode(&p); err != nil || p.T != want {
			t.Errorf("got %q, %v, want %q", p.T, err, want)
		}
	}
}

// Guilds go to their shard by the documented formula, (guild_id >> 22) % shards, and private events to shard 0.
func TestShards(t *testing.T) {
	srv := chattest.New(t, chattest.WithShards(2, 2500))
	guilds := map[bool]*chattest.Guild{}
	for len(guilds) < 2 {
		time.Sleep(time.Millisecond)
		g := srv.Guild("Larch Lane Collectors")
		guilds[chattest.BornAt(g.ID).UnixMilli()%2 == 0] = g
	}
	var shards []*bare
	for i := range 2 {
		b := dial(t, srv, "")
		b.expect(10)
		b.send(2, identity(object{"shard": []int{i, 2}}))
		b.event("READY")
		shards = append(shards, b)
	}
	shards[0].register(cmd(nil))
	ann := srv.Member("ann")
	for _, g := range guilds {
		g.Join(ann)
		i := ann.Slash(g.Channel("general"), "want", nil)
		n := (chattest.BornAt(g.ID).UnixMilli() - 1420070400000) % 2
		if id, _, _ := shards[n].interaction(); id != i.ID {
			t.Errorf("shard %d got %s, want %s", n, id, i.ID)
		}
	}
	i := ann.Slash(ann.DM(), "want", nil)
	if id, _, _ := shards[0].interaction(); id != i.ID {
		t.Error("a private interaction did not come to shard 0")
	}
}

// When the IDENTIFYs of the day are used up, Discord ends the sessions and takes the token away.
func TestIdentifyBudget(t *testing.T) {
	srv := chattest.New(t, chattest.WithIdentifyBudget(2, 1))
	first, second := join(t, srv), join(t, srv)
	third := dial(t, srv, "")
	third.expect(10)
	third.send(2, identity(nil))
	for _, b := range []*bare{first, second, third} {
		if code := b.closed(); code != chattest.CloseBadToken {
			t.Errorf("closed with %d, want %d", code, chattest.CloseBadToken)
		}
	}
}

// A strict gateway wants five seconds between two IDENTIFYs.
func TestIdentifyPace(t *testing.T) {
	srv := chattest.New(t, chattest.Strict())
	join(t, srv)
	b := dial(t, srv, "")
	b.expect(10)
	b.send(2, identity(nil))
	if p := b.expect(9); string(p.D) != "false" {
		t.Errorf("got %s", p.D)
	}
}

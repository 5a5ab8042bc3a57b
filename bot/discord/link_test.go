package discord

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"spareounce/bot/chattest"
)

// TestTheGatewaysAddress asks for version and encoding wherever the gateway is (Discord, Topics, Gateway, Connecting: the
// sample there is wss://gateway.discord.gg/?v=10&encoding=json).
func TestTheGatewaysAddress(t *testing.T) {
	t.Parallel()
	for named, want := range map[string]string{
		"wss://gateway.discord.gg":                     "wss://gateway.discord.gg/?encoding=json&v=10",
		"wss://gateway.discord.gg/":                    "wss://gateway.discord.gg/?encoding=json&v=10",
		"ws://127.0.0.1:9000/gateway":                  "ws://127.0.0.1:9000/gateway?encoding=json&v=10",
		"ws://127.0.0.1:9000/?v=9&encoding=etf&zone=a": "ws://127.0.0.1:9000/?encoding=json&v=10&zone=a",
		"ws://127.0.0.1:9000/?compress=zlib-stream#x":  "ws://127.0.0.1:9000/?encoding=json&v=10",
		"https://gateway.discord.gg":                   "", "gateway.discord.gg": "", "": "",
	} {
		got, err := gatewayAddress(named)
		if got != want || (err == nil) != (want != "") {
			t.Errorf("%q: %q, %v", named, got, err)
		}
	}
}

// TestTheGatewayIsAskedAsDocumented looks at the request that reaches a gateway with a path of its own.
func TestTheGatewayIsAskedAsDocumented(t *testing.T) {
	t.Parallel()
	asked := make(chan string, 1)
	there := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked <- r.URL.RequestURI()
		w.WriteHeader(http.StatusTeapot)
	}))
	t.Cleanup(there.Close)
	tb := newTable(t, chattest.Lenient()).connected()
	if _, err := openAt(tb, "ws"+there.URL[len("http"):]+"/gateway"); err == nil {
		t.Error("it is taken for a gateway")
	}
	if got := <-asked; got != "/gateway?encoding=json&v=10" {
		t.Errorf("asked for %s", got)
	}
}

// openAt opens one more link at an address.
func openAt(tb *table, address string) (*link, error) {
	return tb.chat.open(tb.t.Context(), joining{address: address, shards: 1, within: tb.chat.timing.open, identified: func() {}})
}

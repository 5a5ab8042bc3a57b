package chattest_test

import (
	"crypto/tls"
	"encoding/json"
	"net/http"
	"net/url"
	"testing"

	"github.com/gorilla/websocket"

	"spareounce/bot/chattest"
)

// Through the door a program reaches the stand-in as discord.com, asks it for the gateway, and identifies there, all under
// TLS and with no address but Discord's; any other host is refused.
func TestDoor(t *testing.T) {
	srv := chattest.New(t)
	d := srv.Door()
	proxy, err := url.Parse(d.URL)
	if err != nil {
		t.Fatal(err)
	}
	trust := &tls.Config{RootCAs: d.Authority}
	client := &http.Client{Transport: &http.Transport{Proxy: http.ProxyURL(proxy), TLSClientConfig: trust, ForceAttemptHTTP2: true}}
	defer client.CloseIdleConnections()
	req, err := http.NewRequest("GET", "https://discord.com/api/v10/gateway/bot", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bot "+chattest.Token)
	req.Header.Set("User-Agent", "DiscordBot (https://example.org, 1)")
	resp, err := client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	var gateway struct {
		URL string `json:"url"`
	}
	if err := json.NewDecoder(resp.Body).Decode(&gateway); err != nil || gateway.URL != "wss://gateway.discord.gg" {
		t.Fatalf("gateway %q, %v", gateway.URL, err)
	}
	dialer := websocket.Dialer{Proxy: http.ProxyURL(proxy), TLSClientConfig: &tls.Config{RootCAs: d.Authority}}
	ws, _, err := dialer.Dial(gateway.URL+"/?v=10&encoding=json", nil)
	if err != nil {
		t.Fatal(err)
	}
	defer ws.Close()
	b := &bare{t: t, srv: srv, ws: ws}
	b.expect(10)
	b.send(2, object{"token": chattest.Token, "intents": 1, "properties": object{}})
	var ready struct {
		Resume string `json:"resume_gateway_url"`
	}
	if err := json.Unmarshal(b.event("READY").D, &ready); err != nil || ready.Resume != "wss://gateway-us-east1-b.discord.gg" {
		t.Errorf("resume at %q, %v", ready.Resume, err)
	}
	if _, err := client.Get("https://example.org/"); err == nil {
		t.Error("the door leads to example.org")
	}
	if asked := d.Asked(); asked["discord.com"] == 0 || asked["gateway.discord.gg"] != 1 || asked["example.org"] != 1 {
		t.Errorf("asked for %v", asked)
	}
}

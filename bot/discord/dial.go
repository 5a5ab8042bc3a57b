package discord

import (
	"bufio"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"time"

	"github.com/gorilla/websocket"
)

// dialer connects to the gateway, through the environment's proxy if there is one, and reads along from the first byte.
// TLS ends here and not in the library, for one can only read along inside it.
func dialer(made func(net.Conn) net.Conn) *websocket.Dialer {
	return &websocket.Dialer{
		HandshakeTimeout: openWithin,
		NetDialContext: func(ctx context.Context, network, address string) (net.Conn, error) {
			c, err := dialThrough(ctx, "http", network, address)
			if err != nil {
				return nil, err
			}
			return made(c), nil
		},
		NetDialTLSContext: func(ctx context.Context, network, address string) (net.Conn, error) {
			c, err := dialThrough(ctx, "https", network, address)
			if err != nil {
				return nil, err
			}
			host, _, err := net.SplitHostPort(address)
			if err != nil {
				return nil, err
			}
			sealed := tls.Client(c, &tls.Config{ServerName: host, MinVersion: tls.VersionTLS12, NextProtos: []string{"http/1.1"}})
			if err := sealed.HandshakeContext(ctx); err != nil {
				_ = c.Close()
				return nil, err
			}
			return made(sealed), nil
		},
	}
}

// alive has the system ask a silent peer whether it is there, and end the connection within a quarter of a minute when it
// is not: a heartbeat would notice only with the next one.
var alive = net.KeepAliveConfig{Enable: true, Idle: 5 * time.Second, Interval: 3 * time.Second, Count: 3}

// dialThrough opens a connection, asking the proxy that the environment names for this scheme and host, if any.
func dialThrough(ctx context.Context, scheme, network, address string) (net.Conn, error) {
	proxy, err := http.ProxyFromEnvironment(&http.Request{URL: &url.URL{Scheme: scheme, Host: address}})
	if err != nil {
		return nil, err
	}
	d := net.Dialer{KeepAliveConfig: alive}
	if proxy == nil {
		return d.DialContext(ctx, network, address)
	}
	if wrong := wrongProxy(proxy); wrong != "" {
		return nil, errors.New(wrong)
	}
	port := proxy.Port()
	if port == "" {
		port = "80"
	}
	c, err := d.DialContext(ctx, network, net.JoinHostPort(proxy.Hostname(), port))
	if err != nil {
		return nil, fmt.Errorf("the proxy: %w", err)
	}
	if err := tunnel(ctx, c, proxy, address); err != nil {
		_ = c.Close()
		return nil, fmt.Errorf("the proxy: %w", err)
	}
	return c, nil
}

// wrongProxy is why we can't reach the gateway through a proxy, in a sentence; "" when we can.
func wrongProxy(proxy *url.URL) string {
	if proxy.Scheme == "http" {
		return ""
	}
	return fmt.Sprintf("HTTPS_PROXY names a proxy of the kind %s, and only one of the kind http can be used, such as http://127.0.0.1:3128. What goes through it is encrypted all the same.", proxy.Scheme)
}

// tunnel asks a proxy for a tunnel (RFC 9110, section 9.3.6).
func tunnel(ctx context.Context, c net.Conn, proxy *url.URL, address string) error {
	defer context.AfterFunc(ctx, func() { _ = c.Close() })()
	ask := &http.Request{Method: http.MethodConnect, URL: &url.URL{Opaque: address}, Host: address, Header: http.Header{}}
	if user := proxy.User; user != nil {
		password, _ := user.Password()
		ask.SetBasicAuth(user.Username(), password)
		ask.Header.Set("Proxy-Authorization", ask.Header.Get("Authorization"))
		ask.Header.Del("Authorization")
	}
	if err := ask.Write(c); err != nil {
		return err
	}
	// A server that speaks first would lose bytes to this buffer; inside the tunnel we do, with TLS or an upgrade.
	answer, err := http.ReadResponse(bufio.NewReader(c), ask)
	if err != nil {
		return err
	}
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("it answered %s", answer.Status)
	}
	return nil
}

package chattest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"io"
	"log"
	"maps"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"
)

// A Door lets a program that knows nothing of the stand-in reach it under Discord's own names: a proxy for HTTPS that leads
// every connection to a host of Discord's to the stand-in, with certificates of an authority made for the test. Other
// hosts it refuses.
type Door struct {
	URL           string // of the proxy
	AuthorityFile string // the authority's certificate, as PEM
	Authority     *x509.CertPool
	listener      net.Listener
	inside        *inner
	server        *http.Server
	wait          sync.WaitGroup
	mu            sync.Mutex
	asked         map[string]int
}

// Env is what a program's environment must say for it to go through the door. It works for Go programs and for node.
func (d *Door) Env() []string {
	return []string{
		"HTTPS_PROXY=" + d.URL, "https_proxy=" + d.URL, "NO_PROXY=127.0.0.1,localhost", "no_proxy=127.0.0.1,localhost",
		"SSL_CERT_FILE=" + d.AuthorityFile, "SSL_CERT_DIR=" + filepath.Dir(d.AuthorityFile), "NODE_EXTRA_CA_CERTS=" + d.AuthorityFile,
	}
}

// Door opens a door, which is closed with the server.
func (s *Server) Door() *Door {
	s.t.Helper()
	authority, certificate, err := makeCertificates()
	if err != nil {
		s.t.Fatal("chattest: ", err)
	}
	file := filepath.Join(s.t.TempDir(), "authority.pem")
	if err := os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: authority.Raw}), 0o600); err != nil {
		s.t.Fatal("chattest: ", err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		s.t.Fatal("chattest: ", err)
	}
	d := &Door{
		URL: "http://" + l.Addr().String(), AuthorityFile: file, Authority: x509.NewCertPool(), listener: l,
		inside: &inner{conns: make(chan net.Conn), closed: make(chan struct{}), addr: l.Addr()}, asked: map[string]int{},
	}
	d.Authority.AddCert(authority)
	quiet := log.New(io.Discard, "", 0)
	d.server = &http.Server{
		Handler: s.handler(), ErrorLog: quiet, ReadHeaderTimeout: time.Minute,
		TLSConfig: &tls.Config{Certificates: []tls.Certificate{certificate}, MinVersion: tls.VersionTLS12},
	}
	d.wait.Go(func() { _ = d.server.ServeTLS(d.inside, "", "") }) // ends with ErrServerClosed
	d.wait.Go(d.admit)
	s.mu.Lock()
	s.doors = append(s.doors, d)
	s.mu.Unlock()
	return d
}

// Asked tells how often each host was asked for, Discord's or not.
func (d *Door) Asked() map[string]int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return maps.Clone(d.asked)
}

// admit takes connections to the proxy.
func (d *Door) admit() {
	proxy := &http.Server{Handler: http.HandlerFunc(d.connect), ReadHeaderTimeout: time.Minute, ErrorLog: log.New(io.Discard, "", 0)}
	_ = proxy.Serve(d.listener) // ends when the listener is closed
}

func (d *Door) connect(w http.ResponseWriter, r *http.Request) {
	host, _, err := net.SplitHostPort(r.Host)
	if err != nil {
		host = r.Host
	}
	d.mu.Lock()
	d.asked[host]++
	d.mu.Unlock()
	if r.Method != http.MethodConnect || !discordHosts[host] {
		http.Error(w, "chattest leads to Discord's hosts only", http.StatusForbidden)
		return
	}
	c, _, err := w.(http.Hijacker).Hijack()
	if err != nil {
		return // the connection is gone
	}
	if _, err := io.WriteString(c, "HTTP/1.1 200 Connection Established\r\n\r\n"); err != nil {
		_ = c.Close()
		return
	}
	d.inside.take(c)
}

func (d *Door) close() {
	_ = d.listener.Close() // closing is all we want of it
	_ = d.server.Close()
	d.inside.end()
	d.wait.Wait()
}

// inner is the listener at the inner end of the door.
type inner struct {
	conns  chan net.Conn
	closed chan struct{}
	once   sync.Once
	addr   net.Addr
}

func (i *inner) take(c net.Conn) {
	select {
	case i.conns <- c:
	case <-i.closed:
		_ = c.Close()
	}
}

func (i *inner) end() { i.once.Do(func() { close(i.closed) }) }

// Accept gives the next connection that came through the door.
func (i *inner) Accept() (net.Conn, error) {
	select {
	case c := <-i.conns:
		return c, nil
	case <-i.closed:
		return nil, net.ErrClosed
	}
}

// Close ends the listener.
func (i *inner) Close() error {
	i.end()
	return nil
}

// Addr is the address of the proxy.
func (i *inner) Addr() net.Addr { return i.addr }

// makeCertificates makes an authority, and a certificate for Discord's hosts signed by it. They are good for a day.
func makeCertificates() (*x509.Certificate, tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, tls.Certificate{}, err
	}
	from, until := time.Now().Add(-time.Hour), time.Now().Add(24*time.Hour)
	root := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "chattest authority"}, NotBefore: from, NotAfter: until,
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign,
	}
	raw, err := x509.CreateCertificate(rand.Reader, root, root, &key.PublicKey, key)
	if err != nil {
		return nil, tls.Certificate{}, err
	}
	authority, err := x509.ParseCertificate(raw)
	if err != nil {
		return nil, tls.Certificate{}, err
	}
	leafKey, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, tls.Certificate{}, err
	}
	leaf := &x509.Certificate{
		SerialNumber: big.NewInt(2), Subject: pkix.Name{CommonName: "discord.com"}, NotBefore: from, NotAfter: until,
		DNSNames: slices.Sorted(maps.Keys(discordHosts)), KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	signed, err := x509.CreateCertificate(rand.Reader, leaf, authority, &leafKey.PublicKey, key)
	if err != nil {
		return nil, tls.Certificate{}, err
	}
	return authority, tls.Certificate{Certificate: [][]byte{signed, raw}, PrivateKey: leafKey}, nil
}

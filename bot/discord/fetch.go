package discord

import (
	"context"
	"crypto/rand"
	"io"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"unicode/utf8"

	"spareounce/bot"
)

// upload is a file that a member attached.
type upload struct {
	Filename string `json:"filename"`
	Kind     string `json:"content_type"`
	Size     int64  `json:"size"`
	URL      string `json:"url"`
}

// fileHosts are where the service keeps files. Nothing is fetched from anywhere else, whatever a member's chat claims.
var fileHosts = []string{"cdn.discordapp.com", "media.discordapp.net"}

// mostFile is how much of a file is read, in bytes.
const mostFile = 256 << 10

// fetch reads an attached text file; trouble is a sentence for the member in their language. A list's rows become a line.
func (s *Service) fetch(ctx context.Context, language string, f upload, list bool) (text, trouble string) {
	name := shorten(f.Filename, 60)
	switch {
	case !textual(f):
		return "", bot.Words(language, bot.ChatFileKind, "name", name)
	case f.Size > mostFile:
		return "", bot.Words(language, bot.ChatFileSize, "name", name, "size", f.Size>>10, "most", mostFile>>10)
	case !s.fromFileHost(f.URL):
		return "", bot.Words(language, bot.ChatFilePlace, "name", name)
	}
	data, err := s.download(ctx, f.URL)
	switch {
	case err != nil:
		s.log.WarnContext(ctx, "a file can't be fetched", "err", withoutAddress(err))
		return "", bot.Words(language, bot.ChatFileLost, "name", name)
	case len(data) > mostFile:
		return "", bot.Words(language, bot.ChatFileSize, "name", name, "size", len(data)>>10, "most", mostFile>>10)
	case !utf8.Valid(data):
		return "", bot.Words(language, bot.ChatFileEncoded, "name", name)
	}
	text = strings.TrimPrefix(string(data), "\ufeff")
	if list {
		text = bot.ListFromFile(text)
	}
	return text, ""
}

// textual reports whether a file claims to be text, by its kind or, where that is missing, its name.
func textual(f upload) bool {
	kind, _, _ := strings.Cut(strings.ToLower(f.Kind), ";")
	switch kind {
	case "text/plain", "text/csv", "text/tab-separated-values", "application/csv", "application/vnd.ms-excel", "application/toml", "text/toml":
		return true
	case "", "application/octet-stream":
		return slices.Contains([]string{".txt", ".csv", ".tsv", ".toml"}, strings.ToLower(path.Ext(f.Filename)))
	}
	return false
}

// tabular reports whether a text file claims to have columns.
func tabular(f upload) bool {
	return slices.Contains([]string{".csv", ".tsv"}, strings.ToLower(path.Ext(f.Filename)))
}

func (s *Service) fromFileHost(address string) bool {
	u, err := url.Parse(address)
	if err != nil || u.User != nil {
		return false
	}
	if u.Scheme == "https" && u.Port() == "" && slices.Contains(fileHosts, u.Hostname()) {
		return true
	}
	own, err := url.Parse(s.door.api) // a stand-in keeps its files itself
	return err == nil && s.door.api != DefaultAPI && u.Host == own.Host && u.Scheme == own.Scheme
}

// download fetches a file, without our token, and follows nobody elsewhere.
func (s *Service) download(ctx context.Context, address string) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, usualWithin)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return nil, err
	}
	client := *s.door.client
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	response, err := client.Do(request)
	if err != nil {
		return nil, err
	}
	defer response.Body.Close()
	if response.StatusCode != http.StatusOK {
		return nil, &refusal{what: "GET a file", status: response.StatusCode}
	}
	return io.ReadAll(io.LimitReader(response.Body, mostFile+1))
}

func randomNonce() string { return rand.Text()[:longestNonce] }

// shortKey makes a short name of an id.
func shortKey(id string) string { return id[max(len(id)-20, 0):] }

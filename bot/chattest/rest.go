package chattest

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// largestRequest is Discord's limit for a request with its files.
const largestRequest = 25 << 20

// largestFile is the limit for one file where nobody pays for more.
const largestFile = 10 << 20

// A Request is one REST request that the server received, with the answer it gave.
type Request struct {
	At       time.Time
	Method   string
	Path     string // below /api/vN
	Body     []byte // the JSON part
	Status   int    // 0 if the connection was cut before an answer
	Answer   []byte
	UserHint string // the User-Agent
}

// A call is a request on its way through the stand-in.
type call struct {
	*http.Request
	s       *Server
	route   *route
	path    string // below /api/vN
	raw     []byte
	form    any // the JSON body, decoded
	uploads []upload
}

// body is the form as an object; it is empty if the form is none.
func (c *call) body() object {
	o, _ := c.form.(object)
	if o == nil {
		return object{}
	}
	return o
}

// An upload is a file part of a multipart request.
type upload struct {
	field, name, kind string
	data              []byte
}

// An answer is what a request is answered with. A nil body is 204.
type answer struct {
	status int
	body   any
}

func (s *Server) handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("/"+attachments+"/", s.serveFile)
	mux.HandleFunc("/"+ephemeralAttachments+"/", s.serveFile)
	mux.HandleFunc("/api/", s.serveAPI)
	mux.HandleFunc("/", s.serveGateway)
	return mux
}

// serveAPI answers one REST request: it reads it, lets faults and limits have their way, checks it, carries it out, checks
// the answer and writes it.
func (s *Server) serveAPI(plain http.ResponseWriter, r *http.Request) {
	w := &watched{ResponseWriter: plain}
	version, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/api/"), "/")
	c := &call{Request: r, s: s, path: "/" + rest}
	record := &Request{At: s.settings.now(), Method: r.Method, Path: c.path, UserHint: r.UserAgent()}
	defer func() { // also when a fault cuts the connection
		record.Body, record.Status = c.raw, w.status
		s.limiter.note(w.status, w.Header().Get("X-RateLimit-Scope"))
		s.record(*record)
	}()
	if s.settings.strict && s.limiter.blocked() {
		w.Header().Set("Retry-After", strconv.Itoa(int(invalidWindow.Seconds())))
		page(w, http.StatusTooManyRequests, "Too Many Requests")
		return
	}
	fault := s.faultFor(r.Method, c.path)
	if fault.before(w, r) {
		return
	}
	out := s.carryOut(c, version, w.Header())
	s.checkAnswer(c, out)
	if !fault.after(w, r) {
		record.Answer = write(w, out)
	}
}

// A watched is a ResponseWriter that remembers the status.
type watched struct {
	http.ResponseWriter
	status int
}

// WriteHeader notes the status and passes it on.
func (w *watched) WriteHeader(status int) {
	w.status = status
	w.ResponseWriter.WriteHeader(status)
}

// carryOut gives a request's answer, with what it asks for done.
func (s *Server) carryOut(c *call, version string, h http.Header) answer {
	c.route = match(c.Method, c.path)
	err := s.admit(c, version, h)
	if err == nil {
		err = c.read()
	}
	if err == nil {
		err = s.checkRequest(c)
	}
	if err != nil {
		return s.refuse(c, err)
	}
	out, err := c.route.handle(c)
	if err != nil {
		return s.refuse(c, err)
	}
	return out
}

// admit turns away what never reaches a route's own code.
func (s *Server) admit(c *call, version string, h http.Header) error {
	if version != "v10" && version != "v9" {
		return &refusal{400, 50041, "Invalid API version provided", nil}
	}
	if c.route == nil {
		if pathKnown(c.path) {
			return wrongMethod
		}
		return noSuchRoute
	}
	if agent := c.UserAgent(); !strings.HasPrefix(agent, "DiscordBot (") {
		s.problem("the User-Agent must be DiscordBot ($url, $version), not " + agent)
		return blockedNetwork
	}
	if s.settings.strict {
		if err := s.limiter.take(c, h); err != nil {
			return err
		}
	}
	if auth := c.Header.Get("Authorization"); !c.route.open && auth != "Bot "+Token {
		return unauthorized
	}
	return nil
}

// read takes the request's body apart.
func (c *call) read() error {
	data, err := io.ReadAll(io.LimitReader(c.Body, largestRequest+1))
	if err != nil {
		return badJSON
	}
	if len(data) > largestRequest {
		return tooLarge
	}
	if len(data) == 0 {
		return nil
	}
	kind, params, _ := mime.ParseMediaType(c.Header.Get("Content-Type"))
	switch kind {
	case "application/json":
		c.raw = data
	case "multipart/form-data":
		if err := c.readParts(strings.NewReader(string(data)), params["boundary"]); err != nil {
			return err
		}
	default:
		return form([]fieldError{{"", "CONTENT_TYPE_INVALID", `Expected "Content-Type" header to be one of {'application/json'}.`}})
	}
	if len(c.raw) > 0 && json.Unmarshal(c.raw, &c.form) != nil {
		return badJSON
	}
	return nil
}

func (c *call) readParts(r io.Reader, boundary string) error {
	parts := multipart.NewReader(r, boundary)
	for {
		p, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return badJSON
		}
		data, err := io.ReadAll(p)
		if err != nil {
			return badJSON
		}
		if p.FormName() == "payload_json" {
			c.raw = data
			continue
		}
		if len(data) > largestFile {
			return tooLarge
		}
		c.uploads = append(c.uploads, upload{p.FormName(), p.FileName(), p.Header.Get("Content-Type"), data})
	}
}

// refuse makes the answer of an error.
func (s *Server) refuse(c *call, err error) answer {
	var r *refusal
	if !errors.As(err, &r) {
		var limited *rateLimited
		if errors.As(err, &limited) {
			return answer{http.StatusTooManyRequests, limited.body()}
		}
		s.problem("the stand-in itself failed: " + err.Error())
		return answer{500, object{"message": "500: Internal Server Error", "code": 0}}
	}
	if r.malformed() {
		s.problem(fmt.Sprintf("%s %s: %s\n%s", c.Method, c.route.where(c), r.flat(c.form), shorten(c.raw)))
	}
	return answer{r.status, r.body()}
}

func shorten(b []byte) string {
	if len(b) > 2000 {
		return string(b[:2000]) + "…"
	}
	return string(b)
}

// write sends an answer, and gives its bytes.
func write(w http.ResponseWriter, out answer) []byte {
	if out.body == nil {
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	data, err := json.Marshal(out.body)
	if err != nil {
		panic(err) // our own maps always marshal
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(out.status)
	_, _ = w.Write(data) // a client that is gone misses nothing we could mend
	return data
}

func (s *Server) record(r Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.requests = last(append(s.requests, r), s.settings.keep)
	s.touch()
}

// last keeps the newest n of a list, letting it grow to twice that before it copies.
func last[T any](list []T, n int) []T {
	if len(list) <= 2*n {
		return list
	}
	return append([]T(nil), list[len(list)-n:]...)
}

// Requests lists the REST requests so far, oldest first.
func (s *Server) Requests() []Request {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Request(nil), s.requests...)
}

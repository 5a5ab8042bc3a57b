package chattest

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
)

// A description is Discord's published OpenAPI description, made ready for checking. Where it disagrees with the
// documentation the documentation is followed: default_member_permissions may be a string, and the errors inside a 50035 have
// codes of letters.
type description struct {
	paths   []describedPath
	schemas openapi3.Schemas
}

type describedPath struct {
	parts []string
	item  *openapi3.PathItem
}

// loadDescription reads the description once for a test program: it takes about half a second.
var loadDescription = sync.OnceValues(func() (*description, error) {
	name, err := descriptionFile()
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	return readDescription(data)
})

// descriptionFile says where the description is: where SPAREOUNCE_DISCORD_OPENAPI says, or beside the repository in
// shared/discord. It is data for tests and no part of the repository.
func descriptionFile() (string, error) {
	if name := os.Getenv("SPAREOUNCE_DISCORD_OPENAPI"); name != "" {
		return name, nil
	}
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return filepath.Join(dir, "..", "shared", "discord", "openapi.json"), nil
		}
		up := filepath.Dir(dir)
		if up == dir {
			return "", errors.New("no go.mod above the working directory")
		}
		dir = up
	}
}

// describe gives the description, or nil with a loud word in the test's log if there is none: then only the hand-written
// rules check.
func describe(t testing.TB) *description {
	d, err := loadDescription()
	if err != nil {
		t.Logf("CHECKED BY HAND-WRITTEN RULES ONLY: Discord's published description is not at hand (%v). "+
			"Set SPAREOUNCE_DISCORD_OPENAPI to its openapi.json.", err)
	}
	return d
}

func readDescription(data []byte) (*description, error) {
	var tree any
	if err := json.Unmarshal(data, &tree); err != nil {
		return nil, fmt.Errorf("read the description: %w", err)
	}
	plain(tree)
	data, err := json.Marshal(tree)
	if err != nil {
		return nil, err
	}
	doc, err := openapi3.NewLoader().LoadFromData(data)
	if err != nil {
		return nil, fmt.Errorf("read the description: %w", err)
	}
	d := &description{schemas: doc.Components.Schemas}
	for path, item := range doc.Paths.Map() {
		d.paths = append(d.paths, describedPath{strings.Split(path, "/"), item})
	}
	slices.SortFunc(d.paths, func(a, b describedPath) int { // the most literal path first
		return strings.Count(strings.Join(a.parts, "/"), "{") - strings.Count(strings.Join(b.parts, "/"), "{")
	})
	return d, nil
}

// plain rewrites what the quick validator does not know into what it does: a oneOf of constants into an enum. The one that
// knows compiles a schema anew for every value, which takes 10 to 100 ms.
func plain(v any) {
	switch v := v.(type) {
	case []any:
		for _, x := range v {
			plain(x)
		}
	case object:
		if list, ok := v["oneOf"].([]any); ok {
			var consts []any
			for _, o := range objects(list) {
				if c, ok := o["const"]; ok {
					consts = append(consts, c)
				}
			}
			if len(consts) == len(list) {
				delete(v, "oneOf")
				v["enum"] = consts
			}
		}
		if p, ok := v["_errors"].(object); ok {
			text := object{"type": "string"}
			p["items"] = object{"type": "object", "required": []any{"code", "message"}, "properties": object{"code": text, "message": text}}
		}
		if p, ok := v["default_member_permissions"].(object); ok {
			p["type"] = []any{"integer", "string", "null"}
		}
		for _, x := range v {
			plain(x)
		}
	}
}

// operation finds what the description says about a request; nil if nothing.
func (d *description) operation(method, path string) *openapi3.Operation {
	parts := strings.Split(path, "/")
	for _, p := range d.paths {
		if op := p.item.GetOperation(method); op != nil && (&route{parts: p.parts}).fits(parts) {
			return op
		}
	}
	return nil
}

// request says what is wrong with a request's parameters and JSON.
func (d *description) request(c *call) []fieldError {
	op := d.operation(c.Method, c.path)
	if op == nil {
		return []fieldError{{"", "CHATTEST_UNDESCRIBED", "the published description has no " + c.Method + " " + c.path}}
	}
	wrong := parameters(op, c)
	if op.RequestBody == nil {
		return wrong
	}
	if c.form == nil {
		if op.RequestBody.Value.Required && len(c.uploads) == 0 && string(c.raw) != "null" {
			return append(wrong, fieldError{"", "BASE_TYPE_REQUIRED", "This field is required"})
		}
		return wrong
	}
	return append(wrong, against(op.RequestBody.Value.Content["application/json"].Schema.Value, c.form)...)
}

// parameters checks a request's query.
func parameters(op *openapi3.Operation, c *call) []fieldError {
	var out []fieldError
	for key, values := range c.URL.Query() {
		p := op.Parameters.GetByInAndName("query", key)
		if p == nil {
			out = append(out, fieldError{key, "CHATTEST_UNKNOWN", "no such query parameter"})
			continue
		}
		var v any = values[0]
		if t := p.Schema.Value.Type; t.Is("boolean") || t.Is("integer") {
			if json.Unmarshal([]byte(values[0]), &v) != nil {
				v = values[0]
			}
		}
		out = append(out, against(p.Schema.Value, v)...)
	}
	return out
}

// answer says what is wrong with an answer's JSON.
func (d *description) answer(c *call, a answer) error {
	op := d.operation(c.Method, c.path)
	if op == nil || a.status >= 500 {
		return nil
	}
	if a.body == nil {
		if op.Responses.Value("204") == nil {
			return errors.New("the published description has no answer 204")
		}
		return nil
	}
	r := op.Responses.Value(strconv.Itoa(a.status))
	if r == nil && a.status >= 400 {
		r = op.Responses.Value("4XX")
	}
	if r == nil {
		return fmt.Errorf("the published description has no answer %d", a.status)
	}
	data, err := json.Marshal(a.body)
	if err != nil {
		return err
	}
	var v any
	if err := json.Unmarshal(data, &v); err != nil {
		return err
	}
	if o, ok := v.(object); ok && a.status == http.StatusTooManyRequests && o["code"] == nil {
		o["code"] = 0.0 // the documentation has it optional, and leaves it out of its examples
	}
	var words []string
	for _, w := range against(r.Value.Content["application/json"].Schema.Value, v) {
		words = append(words, w.path+": "+w.words)
	}
	if len(words) > 0 {
		return errors.New(strings.Join(words, "; "))
	}
	return nil
}

// against checks a value, and says at which paths it is wrong.
func against(s *openapi3.Schema, v any) []fieldError {
	if len(s.AnyOf) == 0 {
		return leaves(s.VisitJSON(v, openapi3.MultiErrors(), openapi3.EnableFormatValidation()))
	}
	var best []fieldError
	for i, branch := range s.AnyOf {
		wrong := against(branch.Value, v)
		if len(wrong) == 0 {
			return nil
		}
		if i == 0 || likelier(wrong, best) {
			best = wrong
		}
	}
	return best
}

// likelier reports whether one branch's errors are more likely to be about what was meant than another's: those of a
// branch of the right type are.
func likelier(a, b []fieldError) bool {
	if x, y := wrongType(a), wrongType(b); x != y {
		return y
	}
	return len(a) < len(b)
}

func wrongType(list []fieldError) bool {
	return slices.ContainsFunc(list, func(w fieldError) bool {
		return w.path == "type" || strings.HasSuffix(w.path, ".type") || w.path == ""
	})
}

// leaves lists the errors that matter in what the validator says; where it tried several schemas, those of the likeliest.
func leaves(err error) []fieldError {
	if err == nil {
		return nil
	}
	if list, ok := err.(openapi3.MultiError); ok {
		var out []fieldError
		for _, e := range list {
			out = append(out, leaves(e)...)
		}
		return out
	}
	var s *openapi3.SchemaError
	if !errors.As(err, &s) {
		return []fieldError{{"", "BASE_TYPE_INVALID", err.Error()}}
	}
	var tried openapi3.MultiError
	if s.Origin != nil && errors.As(s.Origin, &tried) {
		if s.SchemaField == "allOf" {
			return leaves(tried)
		}
		var best []fieldError
		for i, e := range tried {
			if wrong := leaves(e); i == 0 || likelierAt(len(s.JSONPointer()), wrong, best) {
				best = wrong
			}
		}
		return best
	}
	return []fieldError{{strings.Join(s.JSONPointer(), "."), discordCode(s), s.Reason}}
}

// likelierAt is likelier, with only the type of the object at that depth deciding.
func likelierAt(depth int, a, b []fieldError) bool {
	other := func(list []fieldError) bool {
		return slices.ContainsFunc(list, func(w fieldError) bool {
			parts := strings.Split(w.path, ".")
			return len(parts) <= depth || len(parts) == depth+1 && parts[depth] == "type"
		})
	}
	if x, y := other(a), other(b); x != y {
		return y
	}
	return len(a) < len(b)
}

// discordCode is the code that Discord gives to a broken keyword (from memory).
func discordCode(s *openapi3.SchemaError) string {
	switch s.SchemaField {
	case "required":
		return "BASE_TYPE_REQUIRED"
	case "maxLength":
		return "BASE_TYPE_MAX_LENGTH"
	case "minLength", "minItems", "maxItems":
		return "BASE_TYPE_BAD_LENGTH"
	case "enum":
		return "BASE_TYPE_CHOICES"
	case "type":
		return "BASE_TYPE_INVALID"
	}
	return "BASE_TYPE_" + strings.ToUpper(s.SchemaField)
}

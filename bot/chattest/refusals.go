package chattest

import (
	"encoding/json"
	"fmt"
	"net/http"
	"sort"
	"strconv"
	"strings"
)

// A refusal is an error answer of the API, with Discord's code and words (Discord, Topics, Opcodes and Status Codes, JSON
// Error Codes).
type refusal struct {
	status int
	code   int
	words  string
	errors object // of 50035: where the form is wrong
}

func (r *refusal) Error() string { return fmt.Sprintf("%d %s (%d)", r.status, r.words, r.code) }

func (r *refusal) body() object {
	o := object{"message": r.words, "code": r.code}
	if r.errors != nil {
		o["errors"] = r.errors
	}
	return o
}

// malformed reports whether only a faulty bot, and no turn of events, leads to this refusal.
func (r *refusal) malformed() bool {
	switch r.code {
	case 50035, 50109, 50006, 40005, 50016, 30032, 20011, 40333:
		return true
	}
	return r.status == http.StatusMethodNotAllowed
}

var (
	unauthorized         = &refusal{401, 0, "401: Unauthorized", nil}
	noSuchRoute          = &refusal{404, 0, "404: Not Found", nil}
	wrongMethod          = &refusal{405, 0, "405: Method Not Allowed", nil}
	unknownApplication   = &refusal{404, 10002, "Unknown Application", nil}
	unknownChannel       = &refusal{404, 10003, "Unknown Channel", nil}
	unknownGuild         = &refusal{404, 10004, "Unknown Guild", nil}
	unknownMember        = &refusal{404, 10007, "Unknown Member", nil}
	unknownMessage       = &refusal{404, 10008, "Unknown Message", nil}
	unknownUser          = &refusal{404, 10013, "Unknown User", nil}
	unknownWebhook       = &refusal{404, 10015, "Unknown Webhook", nil}
	unknownInteraction   = &refusal{404, 10062, "Unknown interaction", nil}
	unknownCommand       = &refusal{404, 10063, "Unknown application command", nil}
	tooManyCreated       = &refusal{400, 30034, "Max number of daily application command creates has been reached (200)", nil}
	tooLarge             = &refusal{413, 40005, "Request entity too large", nil}
	alreadyAcknowledged  = &refusal{400, 40060, "Interaction has already been acknowledged.", nil}
	missingAccess        = &refusal{403, 50001, "Missing Access", nil}
	cannotEditOthers     = &refusal{403, 50005, "Cannot edit a message authored by another user", nil}
	emptyMessage         = &refusal{400, 50006, "Cannot send an empty message", nil}
	cannotSend           = &refusal{403, 50007, "Cannot send messages to this user", nil}
	missingPermissions   = &refusal{403, 50013, "Missing Permissions", nil}
	invalidToken         = &refusal{401, 50027, "Invalid Webhook Token", nil}
	notInThisChannelKind = &refusal{400, 50024, "Cannot execute action on this channel type", nil}
	threadArchived       = &refusal{400, 50083, "Thread is archived", nil}
	badJSON              = &refusal{400, 50109, "The request body contains invalid JSON.", nil}
	noMutualGuild        = &refusal{403, 50278, "Cannot send messages to this user due to having no mutual guilds", nil}
	threadLocked         = &refusal{400, 160005, "Thread is locked", nil}
	tooManyThreads       = &refusal{400, 160006, "Maximum number of active threads reached", nil}
	blockedNetwork       = &refusal{403, 40333, "internal network error", nil}
)

// A fieldError is one thing wrong in a request's form, at a path such as "embeds.0.title".
type fieldError struct {
	path, code, words string
}

// form makes Discord's 50035 of what is wrong: each error stands at its path, under _errors.
func form(wrong []fieldError) error {
	if len(wrong) == 0 {
		return nil
	}
	root := object{}
	for _, w := range wrong {
		at := root
		if w.path != "" {
			for _, key := range strings.Split(w.path, ".") {
				next, ok := at[key].(object)
				if !ok {
					next = object{}
					at[key] = next
				}
				at = next
			}
		}
		list, _ := at["_errors"].([]any)
		at["_errors"] = append(list, object{"code": w.code, "message": w.words})
	}
	return &refusal{400, 50035, "Invalid Form Body", root}
}

// flat lists what a refusal says of a form, with what stands at each path, for a test's log.
func (r *refusal) flat(form any) string {
	var out []string
	var dig func(path string, o object, at any)
	dig = func(path string, o object, at any) {
		if list, ok := o["_errors"].([]any); ok {
			for _, e := range objects(list) {
				out = append(out, fmt.Sprintf("%s: %s (%s): %s", strings.TrimPrefix(path, "."), text(e["message"]), text(e["code"]), brief(at)))
			}
		}
		for k, v := range o {
			if next, ok := v.(object); ok {
				dig(path+"."+k, next, inside(at, k))
			}
		}
	}
	dig("", r.errors, form)
	sort.Strings(out)
	return r.Error() + " " + strings.Join(out, "; ")
}

// inside is what an object has under a key, or a list at an index.
func inside(v any, key string) any {
	switch v := v.(type) {
	case object:
		return v[key]
	case []any:
		if i, err := strconv.Atoi(key); err == nil && i < len(v) {
			return v[i]
		}
	}
	return nil
}

// brief is a value as JSON, cut short.
func brief(v any) string {
	data, err := json.Marshal(v)
	if err != nil {
		return err.Error()
	}
	if len(data) > 200 {
		return string(data[:200]) + "…"
	}
	return string(data)
}

func tooLong(path string, most int) fieldError {
	return fieldError{path, "BASE_TYPE_MAX_LENGTH", "Must be " + strconv.Itoa(most) + " or fewer in length."}
}

func badLength(path string, least, most int) fieldError {
	return fieldError{path, "BASE_TYPE_BAD_LENGTH", fmt.Sprintf("Must be between %d and %d in length.", least, most)}
}

func required(path string) fieldError {
	return fieldError{path, "BASE_TYPE_REQUIRED", "This field is required"}
}

package discord

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"strconv"
	"strings"

	"spareounce/bot"
)

// seal makes the ids that buttons, menus and forms carry, and reads them when they come back. An id holds all that is
// needed: the group, the account it is for and the line it says, under an HMAC (RFC 2104) cut to 72 bits, so it works
// after a restart and nobody can make one up. What is too long is kept in the database under a word that is made from it.
type seal struct{ key []byte }

func newSeal(key string) seal { return seal{[]byte(key)} }

// sealed is what an id says.
type sealed struct {
	kind  kind
	group string // the chat's id of it
	owner string // the account it is for; "" for anyone
	line  string
}

// kind says what an id is for.
type kind byte

// The kinds. A new one gets a new letter; the meaning of none may change while the version stays.
const (
	saysLine    kind = 'b' // a button or a choice that says a line
	fillsForm   kind = 'f' // a form for the command in line
	picksGroup  kind = 'g' // a menu of groups, for the line; the group chosen is a value
	picksPlace  kind = 'c' // a menu of channels
	picksRole   kind = 'r' // a menu of roles
	threadsOn   kind = 't' // a button that allows threads
	threadsOff  kind = 'u'
	menuOfLines kind = 'm' // a menu whose values are sealed lines
)

const (
	version  = '1'
	longest  = 100 // characters of an id
	keptMark = '~' // before the word under which the rest is kept
)

var base = base64.RawURLEncoding

// pack makes an id, keeping what is too long.
func (s seal) pack(ctx context.Context, b *bot.Bot, v sealed) (string, error) {
	head := string(version) + string(v.kind)
	owner, okOwner := packID(v.owner)
	group, okGroup := packID(v.group)
	if okOwner && okGroup && plainLine(v.line) {
		if id := s.sign(head + owner + group + v.line); len(id) <= longest {
			return id, nil
		}
	}
	record := v.owner + "\n" + v.group + "\n" + v.line
	sum := hmac.New(sha256.New, s.key)
	sum.Write([]byte(record))
	word := base.EncodeToString(sum.Sum(nil)[:18])
	if err := b.KeepLine(ctx, word, record); err != nil {
		return "", err
	}
	return s.sign(head + string(keptMark) + word), nil
}

// plainLine reports whether a line has only characters of one byte each, so that bytes are characters.
func plainLine(line string) bool {
	for i := range len(line) {
		if line[i] < ' ' || line[i] > '~' {
			return false
		}
	}
	return true
}

// opening is what became of an id that came back.
type opening int

const (
	opened opening = iota
	forged         // not made by us, or by a version that made them differently
	lost           // ours, but what it stands for is no longer kept
)

// open reads an id.
func (s seal) open(ctx context.Context, b *bot.Bot, id string) (sealed, opening, error) {
	text, ok := s.check(id)
	if !ok || len(text) < 3 || text[0] != version {
		return sealed{}, forged, nil
	}
	v := sealed{kind: kind(text[1])}
	if text[2] == keptMark {
		record, ok, err := b.KeptLine(ctx, text[3:])
		if err != nil || !ok {
			return v, lost, err
		}
		v.owner, record, _ = strings.Cut(record, "\n")
		v.group, v.line, _ = strings.Cut(record, "\n")
		return v, opened, nil
	}
	var okOwner, okGroup bool
	rest := text[2:]
	v.owner, rest, okOwner = unpackID(rest)
	v.group, v.line, okGroup = unpackID(rest)
	if !okOwner || !okGroup {
		return sealed{}, forged, nil
	}
	return v, opened, nil
}

// macLength is the length of a signature in an id.
const macLength = 12

func (s seal) sign(text string) string { return text + s.mac(text) }

func (s seal) mac(text string) string {
	sum := hmac.New(sha256.New, s.key)
	sum.Write([]byte(text))
	return base.EncodeToString(sum.Sum(nil)[:macLength*6/8])
}

func (s seal) check(id string) (text string, ok bool) {
	cut := len(id) - macLength
	if cut < 0 {
		return "", false
	}
	return id[:cut], hmac.Equal([]byte(s.mac(id[:cut])), []byte(id[cut:]))
}

// packID writes an account or a group in eleven characters; "" is a dot.
func packID(id string) (string, bool) {
	if id == "" {
		return ".", true
	}
	n, err := strconv.ParseUint(id, 10, 64)
	if err != nil || strconv.FormatUint(n, 10) != id {
		return "", false
	}
	return base.EncodeToString(binary.BigEndian.AppendUint64(nil, n)), true
}

func unpackID(text string) (id, rest string, ok bool) {
	if strings.HasPrefix(text, ".") {
		return "", text[1:], true
	}
	if len(text) < 11 {
		return "", "", false
	}
	n, err := base.DecodeString(text[:11])
	if err != nil {
		return "", "", false
	}
	return strconv.FormatUint(binary.BigEndian.Uint64(n), 10), text[11:], true
}

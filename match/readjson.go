package match

import (
	"bytes"
	"encoding/json"
	"slices"
	"strconv"

	"spareounce/match/melt"
)

// mostOunces is the heaviest a piece may be: a thousand-ounce bar ten times over.
const mostOunces = 10_000

// The readers below take one kind of JSON value each, note what is wrong with it, and go on with a harmless value. The
// text is known to be well formed.

// object reads an object of known keys.
func (p *poolReader) object(v value, what string, known ...string) object {
	o := object{at: v.at, what: what, in: map[string]value{}}
	dec := json.NewDecoder(bytes.NewReader(v.raw))
	if open, _ := dec.Token(); open != json.Delim('{') {
		p.wrong(v.at, "%s must be an object in braces", what)
		return o
	}
	for dec.More() {
		token, _ := dec.Token()
		key, _ := token.(string)
		at := v.at + int(dec.InputOffset())
		item, ok := p.next(dec, v)
		if !ok {
			return o
		}
		if !slices.Contains(known, key) {
			p.wrong(at, "%s has no %q", what, key)
			continue
		}
		if _, twice := o.in[key]; twice {
			p.wrong(at, "%s has %q twice", what, key)
		}
		o.in[key] = item
	}
	return o
}

// list reads the array under a key of o.
func (p *poolReader) list(o object, key string, needed bool) []value {
	v, ok := o.in[key]
	if !ok {
		if needed {
			p.wrong(o.at, "%s has no %s", o.what, key)
		}
		return nil
	}
	dec := json.NewDecoder(bytes.NewReader(v.raw))
	if open, _ := dec.Token(); open != json.Delim('[') {
		p.wrong(v.at, "%s must be a list in brackets", key)
		return nil
	}
	var items []value
	for dec.More() {
		item, ok := p.next(dec, v)
		if !ok {
			break
		}
		items = append(items, item)
	}
	return items
}

// next takes the next value from within v.
func (p *poolReader) next(dec *json.Decoder, v value) (value, bool) {
	var raw json.RawMessage
	if err := dec.Decode(&raw); err != nil {
		p.wrong(v.at+int(dec.InputOffset()), "this is not JSON: %v", err)
		return value{}, false
	}
	return value{raw, v.at + int(dec.InputOffset()) - len(raw)}, true
}

// word reads a text that is not empty.
func (p *poolReader) word(o object, key string, needed bool) string {
	v, ok := o.in[key]
	var s string
	switch {
	case !ok && needed:
		p.wrong(o.at, "%s has no %s", o.what, key)
	case !ok:
	case v.raw[0] != '"' || json.Unmarshal(v.raw, &s) != nil:
		p.wrong(v.at, "%s must be a text in quotes", key)
	case s == "" && needed:
		p.wrong(v.at, "%s is empty", key)
	}
	return s
}

func (p *poolReader) flag(o object, key string) bool {
	v, ok := o.in[key]
	if ok && string(v.raw) != "true" && string(v.raw) != "false" {
		p.wrong(v.at, "%s must be true or false", key)
	}
	return string(v.raw) == "true"
}

// whole reads a whole number from least to most.
func (p *poolReader) whole(o object, key string, otherwise, least, most int64) int64 {
	v, ok := o.in[key]
	if !ok {
		return otherwise
	}
	n, err := strconv.ParseInt(string(v.raw), 10, 64)
	switch {
	case err != nil:
		p.wrong(v.at, "%s must be a whole number, not %.40s", key, v.raw)
	case n < 0 && least >= 0:
		p.wrong(v.at, "%s is below zero", key)
	case n < least || n > most:
		p.wrong(v.at, "%s must be from %d to %d", key, least, most)
	default:
		return n
	}
	return otherwise
}

func (p *poolReader) count(o object, key string, otherwise, least, most int) int {
	return int(p.whole(o, key, int64(otherwise), int64(least), int64(most)))
}

// money reads an amount that is not below zero, and adds it to the pool's total.
func (p *poolReader) money(o object, key string, otherwise melt.Minor) melt.Minor {
	n := melt.Minor(p.whole(o, key, int64(otherwise), 0, largestTotal))
	if n > largestTotal-p.total {
		p.tooMuch(o.in[key].at)
		return 0
	}
	p.total += n
	return n
}

// tooMuch says once that the money in the pool is too much to count.
func (p *poolReader) tooMuch(at int) {
	if !p.full {
		p.full = true
		p.wrong(at, "the money in this pool adds up to more than can be counted")
	}
}

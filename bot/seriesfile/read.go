// Package seriesfile reads and writes series as files that people write and review, in TOML (toml.io, version 1.0).
//
// Read finds every mistake of a file at once, each with its line and column. What Write writes, Read reads back to the
// same series.
package seriesfile

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"spareounce/match/melt"
	"spareounce/match/series"
)

// Read reads one series. The remarks are sorted by place; if any of them is a mistake the series is not to be used. A
// warning says what people should look at: a declared count that disagrees with the pieces listed.
func Read(name string, text []byte) (series.Series, []Remark) {
	r := reader{file: name, where: map[string]place{}}
	all, bad := tables(text)
	if bad != nil {
		bad.File = name
		return series.Series{}, []Remark{*bad}
	}
	for _, t := range all {
		r.table(t)
	}
	r.fillIn()
	r.check()
	slices.SortStableFunc(r.remarks, func(a, b Remark) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return r.s, r.remarks
}

// Mistakes reports whether any remark is more than a warning.
func Mistakes(remarks []Remark) bool {
	return slices.ContainsFunc(remarks, func(r Remark) bool { return !r.Warning })
}

type reader struct {
	file      string
	s         series.Series
	remarks   []Remark
	where     map[string]place // "piece 82", "slot 84", "key name": where it stands
	lists     []slotRef        // codes named in checklists and slots
	slotCodes []string
}

// slotRef is a code named somewhere, to be looked up when all is read.
type slotRef struct {
	place
	piece bool // else a slot
	code  string
	in    string
}

func (r *reader) mistake(at place, format string, args ...any) {
	r.remarks = append(r.remarks, Remark{File: r.file, Line: at.line, Column: at.column, Text: fmt.Sprintf(format, args...)})
}

func (r *reader) table(t table) {
	var fields map[string]func(value)
	switch t.name {
	case "":
		fields = r.head()
	case "piece":
		r.s.Pieces = append(r.s.Pieces, series.Piece{})
		fields = r.piece(&r.s.Pieces[len(r.s.Pieces)-1])
	case "slot":
		r.s.Slots = append(r.s.Slots, series.Slot{})
		fields = r.slot(&r.s.Slots[len(r.s.Slots)-1])
	case "checklist":
		r.s.Checklists = append(r.s.Checklists, series.Checklist{})
		fields = r.checklist(&r.s.Checklists[len(r.s.Checklists)-1])
	default:
		r.mistake(t.place, "unknown table %q; a file has [[piece]], [[slot]] and [[checklist]]", t.name)
		return
	}
	said := map[string]bool{}
	for _, e := range t.entries {
		read, ok := fields[e.key]
		switch {
		case !ok:
			r.mistake(e.place, "unknown key %q%s", e.key, suggest(e.key, fields))
		case said[e.key]:
			r.mistake(e.place, "key %q stands here twice", e.key)
		default:
			read(e.value)
		}
		said[e.key] = true
	}
	for _, key := range needed[t.name] {
		if !said[key] {
			r.mistake(t.place, "%q is missing here", key)
		}
	}
}

// needed are the keys without which a table says too little.
var needed = map[string][]string{
	"":          {"code", "name", "maker", "metal", "fineness"},
	"piece":     {"code"},
	"slot":      {"code", "fill"},
	"checklist": {"code", "name", "slots"},
}

func suggest(key string, fields map[string]func(value)) string {
	var known []string
	for name := range fields {
		known = append(known, name)
	}
	slices.Sort(known)
	for _, name := range known {
		if strings.HasPrefix(name, key) || strings.HasPrefix(key, name) || len(key) > 3 && strings.HasPrefix(name, key[:3]) {
			return fmt.Sprintf("; is it %q?", name)
		}
	}
	return "; known are " + strings.Join(known, ", ")
}

func (r *reader) head() map[string]func(value) {
	return map[string]func(value){
		"code":     func(v value) { r.s.Code = r.code(v); r.where["series"] = v.place },
		"name":     r.text(&r.s.Name),
		"maker":    r.text(&r.s.Maker),
		"country":  r.text(&r.s.Country),
		"aliases":  r.texts(&r.s.Aliases),
		"metal":    r.text(&r.s.MetalName),
		"gross":    r.weight(&r.s.Metal.Gross),
		"fineness": r.fineness(&r.s.Metal.Fineness),
		"fine":     r.weight(&r.s.Metal.Fine),
		"premium":  r.percent(&r.s.PremiumPercent),
		"declared": func(v value) { r.s.Declared = int(r.number(v, 1, 10_000)); r.where["declared"] = v.place },
		"sources":  r.texts(&r.s.Sources),
	}
}

func (r *reader) piece(p *series.Piece) map[string]func(value) {
	return map[string]func(value){
		"code":       func(v value) { p.Code = r.code(v); r.unique("piece", p.Code, v.place) },
		"label":      r.text(&p.Label),
		"year":       func(v value) { p.Year = int(r.number(v, 1000, 2999)) },
		"variety":    r.text(&p.Variety),
		"motif":      r.text(&p.Motif),
		"size":       func(v value) { r.text(&p.Size)(v); r.sizeOf(p.Size, v) },
		"gross":      r.weight(&p.Metal.Gross),
		"fineness":   r.fineness(&p.Metal.Fineness),
		"fine":       r.weight(&p.Metal.Fine),
		"mintage":    func(v value) { p.Mintage = r.number(v, 1, 1_000_000_000) },
		"scarcity":   func(v value) { p.Scarcity = r.scarcity(v) },
		"premium":    r.percent(&p.PremiumPercent),
		"tell_apart": r.text(&p.TellApart),
		"aliases":    func(v value) { r.texts(&p.Aliases)(v); r.aliases(p, v) },
	}
}

func (r *reader) slot(s *series.Slot) map[string]func(value) {
	return map[string]func(value){
		"code": func(v value) {
			s.Code = r.code(v)
			r.unique("slot", s.Code, v.place)
			r.slotCodes = append(r.slotCodes, s.Code)
		},
		"label": r.text(&s.Label),
		"fill": func(v value) {
			r.texts(&s.Fill)(v)
			if len(s.Fill) == 0 {
				r.mistake(v.place, "no piece fills this slot")
			}
			for _, item := range v.list {
				r.lists = append(r.lists, slotRef{item.place, true, item.text, "slot"})
			}
		},
	}
}

func (r *reader) checklist(c *series.Checklist) map[string]func(value) {
	return map[string]func(value){
		"code": func(v value) { c.Code = r.code(v); r.unique("checklist", c.Code, v.place) },
		"name": r.text(&c.Name),
		"slots": func(v value) {
			r.texts(&c.Slots)(v)
			if len(c.Slots) == 0 {
				r.mistake(v.place, "no slot is on this checklist")
			}
			for _, item := range v.list {
				r.lists = append(r.lists, slotRef{item.place, false, item.text, "checklist"})
			}
		},
	}
}

func (r *reader) unique(what, code string, at place) {
	if first, ok := r.where[what+" "+code]; ok && code != "" {
		r.mistake(at, "%s code %q stands already in line %d", what, code, first.line)
		return
	}
	r.where[what+" "+code] = at
}

var codeShape = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

func (r *reader) code(v value) string {
	if v.kind != unstable.String || !codeShape.MatchString(v.text) {
		r.mistake(v.place, "a code is a string of lower-case letters, digits and hyphens, at most 40")
		return ""
	}
	return v.text
}

func (r *reader) text(into *string) func(value) {
	return func(v value) {
		switch {
		case v.kind != unstable.String:
			r.mistake(v.place, "a text in quotes should stand here")
		case strings.TrimSpace(v.text) == "" || strings.TrimSpace(v.text) != v.text || strings.ContainsAny(v.text, "\n\r\t"):
			r.mistake(v.place, "a text is one line, not empty, without spaces around it")
		case len(v.text) > 300:
			r.mistake(v.place, "a text has at most 300 bytes")
		default:
			*into = v.text
		}
	}
}

func (r *reader) texts(into *[]string) func(value) {
	return func(v value) {
		if v.kind != unstable.Array {
			r.mistake(v.place, "a list in square brackets should stand here")
			return
		}
		for _, item := range v.list {
			var one string
			r.text(&one)(item)
			*into = append(*into, one)
		}
	}
}

func (r *reader) number(v value, least, most int64) int64 {
	n, err := strconv.ParseInt(strings.ReplaceAll(v.text, "_", ""), 10, 64)
	if v.kind != unstable.Integer || err != nil || n < least || n > most {
		r.mistake(v.place, "a whole number from %d to %d should stand here", least, most)
		return 0
	}
	return n
}

func (r *reader) weight(into *melt.Weight) func(value) {
	return func(v value) {
		if v.kind != unstable.String {
			r.mistake(v.place, "a weight is a text with its unit, such as \"1 ozt\" or \"31.1 g\"")
			return
		}
		w, err := melt.ParseWeight(v.text)
		if err != nil {
			r.mistake(v.place, "weight %q: %s", v.text, plain(err))
			return
		}
		*into = w
	}
}

// plain is an error's sentence for people.
func plain(err error) string {
	if p, ok := err.(interface{ Plain() string }); ok {
		return p.Plain()
	}
	return err.Error()
}

func (r *reader) fineness(into *melt.Fineness) func(value) {
	return func(v value) {
		f, err := melt.ParseFineness(v.text)
		if v.kind != unstable.String || err != nil {
			r.mistake(v.place, "a fineness is a text such as \"999\", \"958.4\" or \"sterling\"")
			return
		}
		*into = f
	}
}

func (r *reader) percent(into *int) func(value) {
	return func(v value) {
		digits, ok := strings.CutSuffix(v.text, "%")
		n, err := strconv.Atoi(digits)
		if v.kind != unstable.String || !ok || err != nil || n < -50 || n > 100_000 {
			r.mistake(v.place, "a premium is a text in whole percent of melt, such as \"12%%\"")
			return
		}
		*into = n
	}
}

func (r *reader) scarcity(v value) series.Scarcity {
	for _, s := range []series.Scarcity{series.Common, series.SemiKey, series.Key} {
		if v.kind == unstable.String && v.text == s.String() {
			return s
		}
	}
	r.mistake(v.place, "a scarcity is \"common\", \"semi-key\" or \"key\"")
	return series.Common
}

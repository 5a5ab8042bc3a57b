package seriesfile

import (
	"errors"
	"fmt"

	"github.com/pelletier/go-toml/v2/unstable"
)

// place is where something stands in a file, from 1.
type place struct{ line, column int }

// value is what stands behind a key.
type value struct {
	place
	kind unstable.Kind // String, Integer, Array or another
	text string        // of a string, or a number as written
	list []value       // of an array
}

// entry is one key and its value.
type entry struct {
	place
	key   string
	value value
}

// table is the file's head, or one [[piece]], [[slot]] or [[checklist]].
type table struct {
	place
	name    string // "" for the head
	entries []entry
}

// tables reads a file's tables in order. Where the file is no TOML it stops there, with a mistake.
func tables(text []byte) (all []table, bad *Remark) {
	all = []table{{place: place{1, 1}}}
	var p unstable.Parser
	p.Reset(text)
	for p.NextExpression() {
		node := p.Expression()
		switch node.Kind {
		case unstable.KeyValue:
			last := &all[len(all)-1]
			last.entries = append(last.entries, entryOf(&p, node))
		case unstable.Table, unstable.ArrayTable:
			key, at := keyOf(&p, node.Key())
			if node.Kind == unstable.Table {
				key = "[" + key + "]" // no table of ours: tables of a file come in numbers
			}
			all = append(all, table{place: at, name: key})
		}
	}
	if err := p.Error(); err != nil {
		bad = &Remark{Line: 1, Column: 1, Text: "this is not TOML: " + err.Error()}
		if e, ok := errors.AsType[*unstable.ParserError](err); ok {
			start := p.Shape(p.Range(e.Highlight)).Start
			bad.Line, bad.Column, bad.Text = start.Line, start.Column, "this is not TOML: "+e.Message
		}
	}
	return all, bad
}

func entryOf(p *unstable.Parser, node *unstable.Node) entry {
	key, at := keyOf(p, node.Key())
	e := entry{place: at, key: key, value: valueOf(p, node.Value())}
	if e.value.place == (place{}) {
		e.value.place = at
	}
	return e
}

// keyOf joins a dotted key, and says where it begins.
func keyOf(p *unstable.Parser, parts unstable.Iterator) (key string, at place) {
	for parts.Next() {
		if key == "" {
			at = placeOf(p, parts.Node())
		} else {
			key += "."
		}
		key += string(parts.Node().Data)
	}
	return key, at
}

func placeOf(p *unstable.Parser, node *unstable.Node) place {
	if node.Raw.Length == 0 {
		return place{}
	}
	start := p.Shape(node.Raw).Start
	return place{start.Line, start.Column}
}

func valueOf(p *unstable.Parser, node *unstable.Node) value {
	v := value{place: placeOf(p, node), kind: node.Kind, text: string(node.Data)}
	if node.Kind != unstable.Array {
		return v
	}
	items := node.Children()
	for items.Next() {
		item := valueOf(p, items.Node())
		if v.place == (place{}) {
			v.place = item.place
		}
		v.list = append(v.list, item)
	}
	return v
}

// Remark is something to say about a file.
type Remark struct {
	File         string
	Line, Column int // from 1; columns count bytes
	Warning      bool
	Text         string
}

// String is the remark as compilers write theirs.
func (r Remark) String() string {
	kind := "mistake"
	if r.Warning {
		kind = "warning"
	}
	return fmt.Sprintf("%s:%d:%d: %s: %s", r.File, r.Line, r.Column, kind, r.Text)
}

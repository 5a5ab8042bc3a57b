package bot

import (
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"
)

// commandNamed is what a command or an option may be called (Discord, Interactions, Application Commands, Application
// Command Naming).
var commandNamed = regexp.MustCompile(`^[-_'\p{L}\p{N}\p{Devanagari}\p{Thai}]{1,32}$`)

// TestCommandsHaveWordsInEveryTongue looks in each language for every verb, field and choice, and for none that is not.
func TestCommandsHaveWordsInEveryTongue(t *testing.T) {
	t.Parallel()
	verbs, fields, choices := map[string]bool{Say: true}, map[string]bool{"line": true, "words": true}, map[string]bool{}
	for _, c := range Commands() {
		verbs[c.Name] = true
		for _, f := range c.Fields {
			fields[f.Name] = true
			for _, word := range f.Choices {
				choices[word] = true
			}
		}
	}
	for tag, tongue := range Forms() {
		haveWords(t, tag+" commands", verbs, tongue.Commands)
		haveWords(t, tag+" fields", fields, tongue.Fields)
		haveWords(t, tag+" choices", choices, tongue.Choices)
		taken := map[string]string{}
		for verb, l := range tongue.Commands {
			name := strings.ReplaceAll(l.Name, " ", "-")
			if other := taken[name]; other != "" {
				t.Errorf("%s: %q is what both %q and %q are called", tag, name, verb, other)
			}
			taken[name] = verb
			isNamed(t, tag+" "+verb, name, l.Help)
		}
		for field, l := range tongue.Fields {
			isNamed(t, tag+" "+field, l.Name, l.Help)
		}
		for _, c := range Commands() {
			named := map[string]bool{}
			for _, f := range c.Fields {
				if name := tongue.Fields[f.Name].Name; named[name] {
					t.Errorf("%s: two fields of %q are called %q", tag, c.Name, name)
				} else {
					named[name] = true
				}
			}
		}
		for _, menu := range []string{tongue.Member, tongue.Message} {
			if n := utf8.RuneCountInString(menu); n < 1 || n > 32 {
				t.Errorf("%s: %q has %d characters", tag, menu, n)
			}
		}
	}
}

func haveWords[V any](t *testing.T, what string, keys map[string]bool, words map[string]V) {
	t.Helper()
	for key := range keys {
		if _, ok := words[key]; !ok {
			t.Errorf("%s: there are no words for %q; add them to words_commands.go", what, key)
		}
	}
	for key := range words {
		if !keys[key] {
			t.Errorf("%s: %q is nothing that can be said", what, key)
		}
	}
}

func isNamed(t *testing.T, what, name, help string) {
	t.Helper()
	if !commandNamed.MatchString(name) || name != strings.ToLower(name) {
		t.Errorf("%s: %q can't be a name", what, name)
	}
	if n := utf8.RuneCountInString(help); n < 1 || n > 100 {
		t.Errorf("%s: the help has %d characters: %s", what, n, help)
	}
}

// TestLinesAreMadeOfFields fills in fields and reads the line that a member could have typed.
func TestLinesAreMadeOfFields(t *testing.T) {
	t.Parallel()
	byName := map[string]Command{}
	for _, c := range Commands() {
		byName[c.Name] = c
	}
	for _, c := range []struct {
		name   string
		filled map[string]string
		line   string
	}{
		{"have", map[string]string{"pieces": "harbour 82-84"}, "have harbour 82-84"},
		{"spare", map[string]string{"pieces": "harbour 85", "ask": "38", "condition": "bright", "note": "small nick"}, "spare harbour 85 each bright ask 38 note small nick"},
		{"want", map[string]string{"pieces": "harbour rest", "upto": "45", "urgency": "soon", "least": "toned"}, "want harbour rest each least toned up to 45 soon"},
		{"have", map[string]string{"pieces": "harbour 82", "file": "harbour 83, lantern ND"}, "have harbour 82, harbour 83, lantern ND"},
		{"have", map[string]string{"condition": "toned"}, "have"},
		{"sent", map[string]string{"trade": "12", "by": "Northpost AB 123"}, "sent 12 by Northpost AB 123"},
		{"trades", nil, "trades"},
		{"leave out", map[string]string{"trade": "12", "piece": "harbour 85"}, "leave out 12 harbour 85"},
	} {
		if got := byName[c.name].Line(c.filled); got != c.line {
			t.Errorf("%v makes %q, not %q", c.filled, got, c.line)
		}
	}
}

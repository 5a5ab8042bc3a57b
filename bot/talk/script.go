// Package talk plays transcripts: the members' half of a conversation is heard line by line, and the whole talk, with
// what we answer and whom we tell, is written down.
//
// A transcript says the same every time it is played: its clock moves only as it says, its jobs are done one at a time
// in the order they were enqueued, and every line waits until nothing is left to do.
package talk

import (
	"bufio"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Line is one line of a transcript.
type Line struct {
	Number int    // from 1
	Text   string // as it stands
	deed   deed
	who    string
	words  string
	status int
	length time.Duration
	away   bool // the bot did not run meanwhile
}

// Ours reports whether a line is the bot's, or goes on with one that is.
func (l Line) Ours() bool { return l.deed == ours }

// Says is who says what with the line, and whether to the bot alone.
func (l Line) Says() (who, words string, alone, ok bool) {
	return l.who, l.words, l.deed == whispers, l.deed == says || l.deed == whispers
}

// Presses is who presses the button with which label.
func (l Line) Presses() (who, label string, ok bool) { return l.who, l.words, l.deed == presses }

// Keeper is who runs the group from here on.
func (l Line) Keeper() (who string, ok bool) { return l.who, l.deed == keeps }

// Feed is what the price feed at an address answers from here on.
func (l Line) Feed() (url string, status int, body string, ok bool) {
	return l.who, l.status, l.words, l.deed == feeds
}

type deed int

const (
	nothing deed = iota // a comment, an empty line, or a line of ours
	ours
	says
	whispers
	presses
	waits
	keeps
	feeds
)

var (
	saying   = regexp.MustCompile(`^(\pL[\pL\pN_.-]*)( to bot)?> ?(.*)$`)
	pressing = regexp.MustCompile(`^(\pL[\pL\pN_.-]*) presses (.+)$`)
	feeding  = regexp.MustCompile(`^feed (https://\S+) answers (\d{3})(?: (.*))?$`)
	keeping  = regexp.MustCompile(`^keeper (\pL[\pL\pN_.-]*)$`)
	waiting  = regexp.MustCompile(`^--- (\d+) (minute|hour|day|week)s? later(, having been away)?$`)
)

// Parse reads a transcript. Members' lines are "ann> want harbour 82-86" and "ann to bot> gaps", a button is
// "ann presses Accept", the clock is "--- 3 days later" or, when the bot does not run
// meanwhile, "--- 3 days later, having been away", a keeper is named first as "keeper ann", and "# …" is a comment.
// From "feed https://prices.example answers 200 {…}" on a price feed says that.
// Lines that begin with "bot> " or "bot to ann> ", and indented ones after them, are ours.
func Parse(r io.Reader) ([]Line, error) {
	var script []Line
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, 1<<20)
	for n := 1; lines.Scan(); n++ {
		l, err := parseLine(lines.Text())
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		l.Number = n
		script = append(script, l)
	}
	return script, lines.Err()
}

func parseLine(text string) (Line, error) {
	l := Line{Text: text}
	switch {
	case strings.TrimSpace(text) == "", strings.HasPrefix(text, "#"):
		return l, nil
	case strings.HasPrefix(text, "bot> "), strings.HasPrefix(text, "bot to "), strings.HasPrefix(text, "  "):
		l.deed = ours
		return l, nil
	}
	if m := waiting.FindStringSubmatch(text); m != nil {
		n, err := strconv.Atoi(m[1])
		if err != nil || n > 10_000 {
			return l, fmt.Errorf("%q is too long to wait", text)
		}
		unit := map[string]time.Duration{"minute": time.Minute, "hour": time.Hour, "day": 24 * time.Hour, "week": 7 * 24 * time.Hour}[m[2]]
		l.deed, l.length, l.away = waits, time.Duration(n)*unit, m[3] != ""
		return l, nil
	}
	if m := keeping.FindStringSubmatch(text); m != nil {
		l.deed, l.who = keeps, m[1]
		return l, nil
	}
	if m := feeding.FindStringSubmatch(text); m != nil {
		status, err := strconv.Atoi(m[2])
		l.deed, l.who, l.words, l.status = feeds, m[1], m[3], status
		return l, err
	}
	if m := pressing.FindStringSubmatch(text); m != nil {
		l.deed, l.who, l.words = presses, m[1], m[2]
		return l, nil
	}
	if m := saying.FindStringSubmatch(text); m != nil {
		l.deed, l.who, l.words = says, m[1], m[3]
		if m[2] != "" {
			l.deed = whispers
		}
		return l, nil
	}
	return l, fmt.Errorf("%q is no line of a transcript", text)
}

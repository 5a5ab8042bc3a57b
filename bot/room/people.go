package room

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"spareounce/bot"
)

// people are who can sit down: every member the talker has told us of since the start, and who came in here. Nobody is
// forgotten before the program stops, for who leaves the group still has a page with the answer to read.
type people struct {
	mu     sync.Mutex
	order  []string // accounts, in the order in which we met them
	known  map[string]bot.Speaker
	joined int
}

// meet asks the talker who there is.
func (p *people) meet(ctx context.Context, t Talker, group string) error {
	all, err := t.Members(ctx, group)
	if err != nil {
		return fmt.Errorf("list the members: %w", err)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, s := range all {
		p.add(s)
	}
	return nil
}

func (p *people) add(s bot.Speaker) {
	s.Name = oneLine(s.Name)
	if p.known == nil {
		p.known = map[string]bot.Speaker{}
	}
	if _, ok := p.known[s.Account]; !ok {
		p.order = append(p.order, s.Account)
	}
	p.known[s.Account] = s
}

// all lists everyone we know.
func (p *people) all() []bot.Speaker {
	p.mu.Lock()
	defer p.mu.Unlock()
	list := make([]bot.Speaker, len(p.order))
	for i, account := range p.order {
		list[i] = p.known[account]
	}
	return list
}

// one finds who has an account.
func (p *people) one(account string) (bot.Speaker, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	s, ok := p.known[account]
	return s, ok
}

// refusal is a sentence for whoever is at the page.
type refusal string

func (r refusal) Error() string { return string(r) }

// Why nobody new comes in.
const (
	noName  refusal = "A name has 1 to 40 characters, one of them at least to be seen. Please choose another."
	crowded refusal = "The room is full: nobody new can come in before it is opened again. Take the chair of somebody who is here."
)

// join lets somebody in under a name. A name that is taken leads to the chair of whoever has it.
func (p *people) join(name string, keeper bool) (bot.Speaker, error) {
	name = oneLine(name)
	if n := utf8.RuneCountInString(name); n > longestName || !strings.ContainsFunc(name, leavesMark) {
		return bot.Speaker{}, noName
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	// The account is made of the name, so whoever comes back after a restart is the same member; the word before it keeps
	// anyone from naming themselves into another's account.
	s := bot.Speaker{Account: "guest-" + strings.ToLower(name), Name: name, Keeper: keeper}
	for _, account := range p.order {
		if there := p.known[account]; strings.EqualFold(there.Name, name) || strings.EqualFold(account, name) || account == s.Account {
			return there, nil
		}
	}
	if p.joined == mostJoined {
		return bot.Speaker{}, crowded
	}
	p.joined++
	p.add(s)
	return s, nil
}

// oneLine is a name as it stands in one line of the page.
func oneLine(name string) string { return strings.Join(strings.Fields(plain(name)), " ") }

// leavesMark reports whether a character can be seen on its own.
func leavesMark(c rune) bool {
	return unicode.IsGraphic(c) && !unicode.IsSpace(c) && !unicode.IsMark(c)
}

package discord

import (
	"context"
	"fmt"
	"strings"
	"sync"

	"spareounce/bot"
	"spareounce/bot/chattest"
)

// books hold what the bot wanted said unasked against what members saw: each thing once.
type books struct {
	bot.Chat
	bot.Sharer
	mu      sync.Mutex
	asked   map[string]entry           // by key
	done    map[string]bool            // by key, that the chat said so
	seen    map[string]map[string]bool // by channel and nonce, the messages that appeared
	kinds   map[chattest.Change]int    // how many messages of ours appeared, changed and went
	places  map[string]bool            // channels in which we spoke
	excused map[string]bool            // accounts to whom we can\'t write at times: what they were not told waits for their visit
}

func newBooks() *books {
	return &books{asked: map[string]entry{}, done: map[string]bool{}, seen: map[string]map[string]bool{}, kinds: map[chattest.Change]int{}, places: map[string]bool{}}
}

// entry is what the bot wanted said.
type entry struct {
	account string // "" for the group
	text    string // the beginning of it
	anew    bool   // and not by changing an older message
}

// excuse lets things wait for an account's visit.
func (b *books) excuse(account string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.excused == nil {
		b.excused = map[string]bool{}
	}
	b.excused[account] = true
}

// forget empties the books.
func (b *books) forget() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.asked, b.done, b.seen = map[string]entry{}, map[string]bool{}, map[string]map[string]bool{}
}

// beside puts the books between the bot and its chat.
func (b *books) beside(c bot.Chat) bot.Chat {
	b.Chat = c
	b.Sharer, _ = c.(bot.Sharer)
	return b
}

func (b *books) Tell(ctx context.Context, group, account string, r bot.Reply) error {
	return b.note(account, r, b.Chat.Tell(ctx, group, account, r))
}

func (b *books) Post(ctx context.Context, group string, r bot.Reply) error {
	return b.note("", r, b.Chat.Post(ctx, group, r))
}

func (b *books) note(account string, r bot.Reply, err error) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if r.Key != "" {
		b.asked[r.Key] = entry{account, r.Text[:min(len(r.Text), 80)], r.About == "" || len(r.Buttons) > 0}
		b.done[r.Key] = b.done[r.Key] || err == nil
	}
	return err
}

// see notes what appears in the service.
func (b *books) see(x chattest.Sighting) {
	b.mu.Lock()
	defer b.mu.Unlock()
	m := x.Message
	b.kinds[x.Change]++
	if x.Change != chattest.Said || m.Nonce == "" {
		return
	}
	where := m.Channel.ID + " " + m.Nonce
	if b.seen[where] == nil {
		b.seen[where] = map[string]bool{}
	}
	b.seen[where][m.ID] = true
	b.places[m.Channel.ID] = true
}

// wrong lists what was said twice, and what was not said though the chat reported no error, or was given up. What asks
// nothing may have changed an older message about the same instead of being said anew.
func (b *books) wrong() (wrong []string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for where, messages := range b.seen {
		if len(messages) > 1 {
			wrong = append(wrong, fmt.Sprintf("%s was said in %d messages", where, len(messages)))
		}
	}
	for key, r := range b.asked {
		said := false
		for place := range b.places {
			said = said || b.seen[place+" "+nonce(place, key, 0)] != nil
		}
		switch {
		case !b.done[key]:
			wrong = append(wrong, fmt.Sprintf("%s was never said: %s", key, r.text))
		case !said && r.anew && !b.excused[r.account]:
			wrong = append(wrong, fmt.Sprintf("%s was lost: %s", key, r.text))
		}
	}
	return wrong
}

// told counts the replies that were to be said unasked.
func (b *books) told() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return len(b.asked)
}

// timesSaid counts the messages that appeared with these words.
func timesSaid(all []chattest.Sighting, in *chattest.Channel, words string) (n int) {
	for _, x := range all {
		if x.Change == chattest.Said && x.Message.Channel == in && strings.Contains(x.Message.Text(), words) {
			n++
		}
	}
	return n
}

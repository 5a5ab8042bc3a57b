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
	mu     sync.Mutex
	asked  map[string]bot.Reply       // by key
	done   map[string]bool            // by key, that the chat said so
	seen   map[string]map[string]bool // by channel and nonce, the messages that appeared
	kinds  map[chattest.Change]int    // how many messages of ours appeared, changed and went
	places map[string]bool            // channels in which we spoke
}

func newBooks() *books {
	return &books{asked: map[string]bot.Reply{}, done: map[string]bool{}, seen: map[string]map[string]bool{}, kinds: map[chattest.Change]int{}, places: map[string]bool{}}
}

// beside puts the books between the bot and its chat.
func (b *books) beside(c bot.Chat) bot.Chat {
	b.Chat = c
	return b
}

func (b *books) Tell(ctx context.Context, group, account string, r bot.Reply) error {
	return b.note(r, b.Chat.Tell(ctx, group, account, r))
}

func (b *books) Post(ctx context.Context, group string, r bot.Reply) error {
	return b.note(r, b.Chat.Post(ctx, group, r))
}

func (b *books) note(r bot.Reply, err error) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if r.Key != "" {
		b.asked[r.Key] = r
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
			wrong = append(wrong, fmt.Sprintf("%s was never said: %s", key, r.Text))
		case !said && (r.About == "" || len(r.Buttons) > 0):
			wrong = append(wrong, fmt.Sprintf("%s was lost: %s", key, r.Text))
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

package bot

import (
	"cmp"
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"time"

	"spareounce/store"
)

// What a chat needs remembered, it has us remember: it has no database of its own, several of its processes may serve one,
// and any of them may be stopped at any time.

// Group is what a chat needs to know of a group.
type Group struct {
	Chat       string // the chat's own id
	Name       string
	Zone       string // IANA
	Currency   string // ISO 4217
	Channel    string // where posts to the whole group go; "" for where the chat thinks best
	Threads    bool   // private threads may be opened
	KeeperRole string // whose holders keep the group too; "" for none
	Series     int    // how many are collected
}

func groupOf(g store.Group) Group {
	return Group{Chat: g.Chat, Name: g.Name, Zone: g.Zone, Currency: string(g.Currency), Channel: g.Channel, Threads: g.Threads, KeeperRole: g.KeeperRole}
}

// Group finds a group, making it at first sight.
func (b *Bot) Group(ctx context.Context, chat string) (Group, error) {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return Group{}, err
	}
	catalogue, err := b.store.Catalogue(ctx, g)
	if err != nil {
		return Group{}, err
	}
	seen := groupOf(g)
	seen.Series = len(catalogue.All())
	return seen, nil
}

// Arrange saves where a group hears us and who keeps it: the channel, the threads and the role.
func (b *Bot) Arrange(ctx context.Context, chat string, edit func(*Group)) error {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return err
	}
	seen := groupOf(g)
	edit(&seen)
	g.Channel, g.Threads, g.KeeperRole = seen.Channel, seen.Threads, seen.KeeperRole
	return b.store.SaveGroup(ctx, g)
}

// GroupsOf lists the groups that an account is a member of.
func (b *Bot) GroupsOf(ctx context.Context, account string) ([]Group, error) {
	all, err := b.store.GroupsOf(ctx, account)
	if err != nil {
		return nil, err
	}
	groups := make([]Group, len(all))
	for i, g := range all {
		groups[i] = groupOf(g)
	}
	return groups, nil
}

// Groups lists the chat's own ids of the groups that have us.
func (b *Bot) Groups(ctx context.Context) ([]string, error) { return b.store.Chats(ctx) }

// Joined hears that a group has us, or has us again, and what it is called.
func (b *Bot) Joined(ctx context.Context, chat, name string) error {
	if err := b.store.GroupBack(ctx, chat); err != nil {
		return err
	}
	return b.store.NameGroup(ctx, chat, name)
}

// SentAway hears that a group has sent us away: nothing more is said to it, and after store.RememberGone all that it told
// us is deleted.
func (b *Bot) SentAway(ctx context.Context, chat string) error { return b.store.GroupGone(ctx, chat) }

// Known finds who an account is in a group, as last heard, without making a member of it.
func (b *Bot) Known(ctx context.Context, chat, account string) (Speaker, bool, error) {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return Speaker{}, false, err
	}
	m, ok, err := b.store.KnownMember(ctx, g.ID, account)
	return Speaker{Account: m.Account, Name: m.Name, Keeper: m.Keeper}, ok && !m.Gone, err
}

// Left records that an account is in a group's chat no longer: as if they had said so themselves.
func (b *Bot) Left(ctx context.Context, chat, account string) error {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return err
	}
	m, ok, err := b.store.KnownMember(ctx, g.ID, account)
	if err != nil || !ok || m.Gone {
		return err
	}
	return b.store.Leave(ctx, m)
}

// Reach is how an account may be spoken to when it did not ask.
type Reach = store.Reach

// Account is how one account may be reached.
type Account = store.Account

// Account reads how an account may be reached.
func (b *Bot) Account(ctx context.Context, account string) (Account, error) {
	return b.store.AccountOf(ctx, account)
}

// SaveAccount writes how an account may be reached.
func (b *Bot) SaveAccount(ctx context.Context, account string, a Account) error {
	return b.store.SaveAccount(ctx, account, a)
}

// Said is a message of ours in the chat, and whom it was for.
type Said = store.Said

// SaidAbout finds the messages that show something to members, by the line that shows it.
func (b *Bot) SaidAbout(ctx context.Context, chat, about string) ([]Said, error) {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return nil, err
	}
	return b.store.SaidAbout(ctx, g.ID, about)
}

// SaveSaid records the message that shows something to a member from now on.
func (b *Bot) SaveSaid(ctx context.Context, chat, about string, m Said) error {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return err
	}
	return b.store.SaveSaid(ctx, g.ID, about, m)
}

// Place is where something is shown to its parties together.
type Place = store.Place

// PlaceOf reads what is known of the place of something, by the line that shows it; the zero Place when that is nothing.
func (b *Bot) PlaceOf(ctx context.Context, chat, about string) (Place, error) {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return Place{}, err
	}
	return b.store.PlaceOf(ctx, g.ID, about)
}

// AskPlace records that the chat is about to be asked for a place. Until SavePlace nobody knows what came of that.
func (b *Bot) AskPlace(ctx context.Context, chat, about string) error {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return err
	}
	return b.store.AskPlace(ctx, g.ID, about)
}

// SavePlace records what is known of a place by now.
func (b *Bot) SavePlace(ctx context.Context, chat, about string, p Place) error {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return err
	}
	return b.store.SavePlace(ctx, g.ID, about, p)
}

// Wait keeps a reply for a member's next visit.
func (b *Bot) Wait(ctx context.Context, chat, account string, r Reply) error {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return err
	}
	return b.store.Wait(ctx, g.ID, account, cmp.Or(r.Key, rand.Text()), r)
}

// Waiting takes what waits for a member's visit, at most a few.
func (b *Bot) Waiting(ctx context.Context, chat, account string, most int) ([]Reply, error) {
	g, err := b.store.Group(ctx, chat, chat)
	if err != nil {
		return nil, err
	}
	all, err := b.store.Waiting(ctx, g.ID, account, most)
	if err != nil {
		return nil, err
	}
	replies := make([]Reply, len(all))
	for i, text := range all {
		if err := json.Unmarshal(text, &replies[i]); err != nil {
			return nil, fmt.Errorf("read what waits for a member: %w", err)
		}
	}
	return replies, nil
}

// FirstHeard reports whether nobody has heard this before: of all processes that ask, one is told so.
func (b *Bot) FirstHeard(ctx context.Context, id string) (bool, error) {
	return b.store.FirstHeard(ctx, id)
}

// KeepLine keeps a line that is too long for a button under a word.
func (b *Bot) KeepLine(ctx context.Context, word, says string) error {
	return b.store.KeepLine(ctx, word, says)
}

// KeptLine finds it again.
func (b *Bot) KeptLine(ctx context.Context, word string) (string, bool, error) {
	return b.store.KeptLine(ctx, word)
}

// Secret is a secret of that name, the same for every process.
func (b *Bot) Secret(ctx context.Context, name string) (string, error) {
	return b.store.Secret(ctx, name)
}

// Note reads what is kept under a name; "" when nothing is.
func (b *Bot) Note(ctx context.Context, name string) (string, error) { return b.store.Note(ctx, name) }

// SaveNote keeps a value under a name.
func (b *Bot) SaveNote(ctx context.Context, name, value string) error {
	return b.store.SaveNote(ctx, name, value)
}

// Lease takes or renews what only one process may hold at a time, and reports whether holder has it.
func (b *Bot) Lease(ctx context.Context, name, holder string, length time.Duration) (bool, error) {
	return b.store.Lease(ctx, name, holder, length)
}

// EndLease gives a lease back.
func (b *Bot) EndLease(ctx context.Context, name, holder string) error {
	return b.store.EndLease(ctx, name, holder)
}

// Leases lists the leases held now whose names begin so, with who holds each.
func (b *Bot) Leases(ctx context.Context, beginning string) (map[string]string, error) {
	return b.store.Leases(ctx, beginning)
}

// TakeOffer takes a lease that was leased to "" for somebody to take, and reports whether holder has it.
func (b *Bot) TakeOffer(ctx context.Context, name, holder string, length time.Duration) (bool, error) {
	return b.store.TakeOffer(ctx, name, holder, length)
}

// Succeed leases a thing to who holds the lease to be next, whoever has it until then, and reports whether that is holder.
func (b *Bot) Succeed(ctx context.Context, name, next, holder string, length time.Duration) (bool, error) {
	return b.store.Succeed(ctx, name, next, holder, length)
}

// Start asks to do what may be done only so many times within a while, by all processes together: 0 is yes, else how long
// to wait before asking again.
func (b *Bot) Start(ctx context.Context, name string, most int, within time.Duration) (time.Duration, error) {
	return b.store.Start(ctx, name, most, within)
}

// Show answers a line that shows something, "trade 12", as the member would be answered, without their having said it.
func (b *Bot) Show(ctx context.Context, chat, account, line string) (Reply, error) {
	who, ok, err := b.Known(ctx, chat, account)
	if err != nil || !ok {
		return Reply{}, err
	}
	t, err := b.begin(ctx, Heard{Group: chat, From: who, Text: line, Private: true})
	if err != nil {
		return Reply{}, err
	}
	reply, err := b.answer(ctx, t)
	return t.spoken(reply), err
}

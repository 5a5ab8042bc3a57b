package discord

import (
	"context"
	"math"
	"math/big"
	"net/http"
	"strings"

	"spareounce/bot"
	"spareounce/bot/tongue"
)

// Permissions that we ask about (Discord, Topics, Permissions), by bit.
const (
	administrator        = 3
	manageGuild          = 5
	viewChannel          = 10
	sendMessages         = 11
	embedLinks           = 14
	attachFiles          = 15
	readHistory          = 16
	createPrivateThreads = 36
	sendInThreads        = 38
)

// invitePermissions are the least with which everything works: to see a channel, speak in it, show cards and files, find
// what we said, and open and use private threads.
const invitePermissions = 1<<viewChannel | 1<<sendMessages | 1<<embedLinks | 1<<attachFiles | 1<<readHistory | 1<<createPrivateThreads | 1<<sendInThreads

// permissionNames are as the service's own settings have them, so that a keeper finds them.
var permissionNames = map[int]tongue.Phrase{
	viewChannel: bot.ChatMayView, sendMessages: bot.ChatMaySend, embedLinks: bot.ChatMayEmbed, attachFiles: bot.ChatMayAttach,
	readHistory: bot.ChatMayReadHistory, createPrivateThreads: bot.ChatMayMakeThreads, sendInThreads: bot.ChatMaySendThreads,
}

// permits reports whether a set of permissions holds one.
func permits(set string, bit int) bool { return bitsOf(set)>>bit&1 == 1 }

// needed are what we need in the channel for posts: threads only if the group allows them.
func needed(threads bool) []int {
	bits := []int{viewChannel, sendMessages, embedLinks, attachFiles, readHistory}
	if threads {
		bits = append(bits, createPrivateThreads, sendInThreads)
	}
	return bits
}

// overwrite is how a channel differs from its server for a role (0) or a member (1).
type overwrite struct {
	ID    string `json:"id"`
	Type  int    `json:"type"`
	Allow string `json:"allow"`
	Deny  string `json:"deny"`
}

// lacking finds which of the needed permissions we lack in a channel, by asking the service for our roles and the channel's
// settings.
func (s *Service) lacking(ctx context.Context, guild, channel string, bits []int) ([]tongue.Phrase, error) {
	var roles []struct {
		ID          string `json:"id"`
		Permissions string `json:"permissions"`
	}
	var me guildMember
	var place struct {
		Overwrites []overwrite `json:"permission_overwrites"`
	}
	for _, ask := range []struct {
		c   call
		out any
	}{
		{call{path: []string{"guilds", guild, "roles"}, route: "/guilds/{guild}/roles", place: guild}, &roles},
		{call{path: []string{"guilds", guild, "members", s.me}, route: "/guilds/{guild}/members/{member}", place: guild}, &me},
		{call{path: []string{"channels", channel}, route: "/channels/{channel}", place: channel}, &place},
	} {
		ask.c.method, ask.c.again, ask.c.soon = http.MethodGet, true, true // a keeper waits for it
		if err := s.door.do(ctx, ask.c, ask.out); codeOf(err) == missingAccess {
			return []tongue.Phrase{permissionNames[viewChannel]}, nil
		} else if err != nil {
			return nil, err
		}
	}
	all := map[string]uint64{}
	for _, r := range roles {
		all[r.ID] = bitsOf(r.Permissions)
	}
	has := permissionsIn(guild, s.me, me.Roles, all, place.Overwrites)
	var lacks []tongue.Phrase
	for _, bit := range bits {
		if has>>bit&1 == 0 {
			lacks = append(lacks, permissionNames[bit])
		}
	}
	return lacks, nil
}

// bitsOf are the permissions in a set, a number in decimal that may grow longer than what we know of it (Discord, Topics,
// Permissions). What is no number permits nothing.
func bitsOf(set string) uint64 {
	n, ok := new(big.Int).SetString(set, 10)
	if !ok || n.Sign() < 0 {
		return 0
	}
	return n.And(n, new(big.Int).SetUint64(math.MaxUint64)).Uint64()
}

// permissionsIn is what a member may do in a channel (Discord, Topics, Permissions, Permission Hierarchy): what everyone and
// the member's roles may do in the server, then the channel's changes for everyone, for the roles together, and for the
// member, in this order. Who administers may do everything.
func permissionsIn(guild, member string, roles []string, all map[string]uint64, changes []overwrite) uint64 {
	has := all[guild] // the role of everyone has the server's id
	for _, r := range roles {
		has |= all[r]
	}
	if has>>administrator&1 == 1 {
		return ^uint64(0)
	}
	mine := map[string]bool{}
	for _, r := range roles {
		mine[r] = true
	}
	var allow, deny uint64
	for _, c := range changes {
		switch {
		case c.ID == guild:
			has = has&^bitsOf(c.Deny) | bitsOf(c.Allow)
		case c.Type == 0 && mine[c.ID]:
			allow, deny = allow|bitsOf(c.Allow), deny|bitsOf(c.Deny)
		}
	}
	has = has&^deny | allow
	for _, c := range changes {
		if c.Type == 1 && c.ID == member {
			has = has&^bitsOf(c.Deny) | bitsOf(c.Allow)
		}
	}
	return has
}

// lacksWords says which permissions are lacking in a channel.
func lacksWords(language, channel string, lacks []tongue.Phrase) string {
	words := make([]string, len(lacks))
	for i, p := range lacks {
		words[i] = bot.Words(language, p)
	}
	return bot.Words(language, bot.ChatLacks, "channel", "#"+channel, "list", strings.Join(words, ", "))
}

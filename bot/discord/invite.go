package discord

import (
	"cmp"
	"encoding/base64"
	"fmt"
	"strings"
)

// InviteLink is the address at which a keeper of a server invites the bot, with the least permissions. The application's id
// is the first part of the token, which is no secret.
func InviteLink(token string) string {
	id := cmp.Or(applicationIn(token), "YOUR-APPLICATION-ID")
	return fmt.Sprintf("https://discord.com/oauth2/authorize?client_id=%s&scope=bot+applications.commands&permissions=%d", id, uint64(InvitePermissions))
}

// applicationIn is the application's id in a token; "" when it holds none.
func applicationIn(token string) string {
	first, _, _ := strings.Cut(token, ".")
	id, err := base64.RawStdEncoding.DecodeString(strings.TrimRight(first, "="))
	if err != nil || strings.Trim(string(id), "0123456789") != "" {
		return ""
	}
	return string(id)
}

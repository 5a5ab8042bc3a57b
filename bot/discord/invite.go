package discord

import (
	"encoding/base64"
	"fmt"
	"strings"
)

// inviteLink is the address at which a keeper of a server invites an application's bot, with the least permissions.
func inviteLink(application string) string {
	return fmt.Sprintf("https://discord.com/oauth2/authorize?client_id=%s&scope=bot+applications.commands&permissions=%d", application, uint64(invitePermissions))
}

// applicationIn is the application's id in a token, whose first part it is and no secret; "" when it holds none.
func applicationIn(token string) string {
	first, _, _ := strings.Cut(token, ".")
	id, err := base64.RawStdEncoding.DecodeString(strings.TrimRight(first, "="))
	if err != nil || strings.Trim(string(id), "0123456789") != "" {
		return ""
	}
	return string(id)
}

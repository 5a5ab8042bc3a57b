package discord

import "testing"

// TestPermissions reads sets of permissions, and works out what a member may do in a channel by the rules and in the order of
// Discord, Topics, Permissions, Permission Hierarchy.
func TestPermissions(t *testing.T) {
	t.Parallel()
	for set, want := range map[string]bool{
		"32": true, "0": false, "8": false, "2147483647": true, "340282366920938463463374607431768211488": true, // 2^128 and Manage Server
		"": false, "-1": false, "all": false, "1e9": false, "0x20": false,
	} {
		if got := permits(set, manageGuild); got != want {
			t.Errorf("%q permits to manage the server: %t", set, got)
		}
	}
	const see, speak = 1 << viewChannel, 1 << sendMessages
	all := map[string]uint64{"guild": see | speak, "helpers": 0, "bots": 0, "masters": 1 << administrator}
	for name, c := range map[string]struct {
		roles   []string
		changes []overwrite
		want    uint64
	}{
		"everyone":                         {nil, nil, see | speak},
		"denied to everyone":               {nil, []overwrite{{ID: "guild", Deny: "2048"}}, see},
		"allowed to a role again":          {[]string{"bots"}, []overwrite{{ID: "bots", Allow: "2048"}, {ID: "guild", Deny: "2048"}}, see | speak},
		"of two roles the one that allows": {[]string{"bots", "helpers"}, []overwrite{{ID: "helpers", Deny: "2048"}, {ID: "bots", Allow: "2048"}}, see | speak},
		"denied to the member":             {[]string{"bots"}, []overwrite{{ID: "me", Type: 1, Deny: "2048"}, {ID: "bots", Allow: "2048"}}, see},
		"denied to another":                {nil, []overwrite{{ID: "you", Type: 1, Deny: "3072"}, {ID: "helpers", Deny: "3072"}}, see | speak},
		"an administrator":                 {[]string{"masters"}, []overwrite{{ID: "me", Type: 1, Deny: "3072"}}, ^uint64(0)},
	} {
		if got := permissionsIn("guild", "me", c.roles, all, c.changes); got != c.want {
			t.Errorf("%s: %b", name, got)
		}
	}
}

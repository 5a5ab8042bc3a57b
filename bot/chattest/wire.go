package chattest

import (
	"strings"
	"time"
)

// An object is a JSON object as it goes over the wire.
type object = map[string]any

// stamp formats a time as Discord does.
func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000+00:00") }

// user is the wire form of a member's account.
func (m *Member) user() object {
	u := object{
		"id": m.ID, "username": handle(m.Name), "global_name": m.Name, "discriminator": "0", "avatar": nil,
		"public_flags": 0, "flags": 0, "primary_guild": nil,
	}
	if m.bot {
		u["bot"], u["global_name"] = true, nil
	}
	return u
}

// handle makes a user name of a display name: lower case letters, digits, underscores and periods.
func handle(name string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '_', r == '.':
			return r
		case r == ' ', r == '-':
			return '_'
		}
		return -1
	}, strings.ToLower(name))
}

// wire is the wire form of a member of a guild, without the user in it.
func (p *seat) wire() object {
	o := object{
		"avatar": nil, "banner": nil, "communication_disabled_until": nil, "flags": 0, "joined_at": stamp(p.joined),
		"nick": nil, "pending": false, "premium_since": nil, "roles": append([]string{}, p.roles...), "mute": false, "deaf": false,
	}
	if p.nick != "" {
		o["nick"] = p.nick
	}
	return o
}

func (p *seat) withUser() object {
	o := p.wire()
	o["user"] = p.member.user()
	return o
}

func (r *Role) wire() object {
	return object{
		"id": r.ID, "name": r.Name, "permissions": r.Permissions.String(), "position": 0, "color": 0,
		"colors": object{"primary_color": 0, "secondary_color": nil, "tertiary_color": nil},
		"hoist":  false, "managed": false, "mentionable": false, "icon": nil, "unicode_emoji": nil, "flags": 0,
	}
}

// wire is the wire form of a channel, thread or private conversation.
func (c *Channel) wire() object {
	o := object{"id": c.ID, "type": int(c.Kind), "flags": 0, "last_message_id": nil}
	if n := len(c.messages); n > 0 {
		o["last_message_id"] = c.messages[n-1]
	}
	if c.Kind == Private {
		var in []object
		for id := range c.in {
			in = append(in, c.s.members[id].user())
		}
		o["recipients"] = in
		return o
	}
	o["guild_id"], o["name"], o["rate_limit_per_user"] = c.guild.ID, c.Name, 0
	if c.parent == nil {
		o["position"], o["nsfw"], o["topic"], o["parent_id"] = 0, false, nil, nil
		over := []object{}
		for id, p := range c.denied {
			kind := 0
			if _, member := c.s.members[id]; member {
				kind = 1
			}
			over = append(over, object{"id": id, "type": kind, "allow": "0", "deny": p.String()})
		}
		o["permission_overwrites"] = over
		return o
	}
	o["parent_id"], o["owner_id"] = c.parent.ID, c.s.app.ID
	o["message_count"], o["total_message_sent"], o["member_count"] = len(c.messages), len(c.messages), min(len(c.in), 50)
	o["thread_metadata"] = object{
		"archived": c.archived, "locked": c.locked, "auto_archive_duration": c.hides, "archive_timestamp": stamp(BornAt(c.ID)),
		"create_timestamp": stamp(BornAt(c.ID)), "invitable": !c.closed,
	}
	return o
}

// brief is the partial channel that interactions carry, with the member's permissions in it.
func (c *Channel) brief(m *Member) object {
	o := c.wire()
	for _, key := range []string{"permission_overwrites", "owner_id", "message_count", "total_message_sent", "member_count"} {
		if c.parent == nil || key == "permission_overwrites" {
			delete(o, key)
		}
	}
	o["permissions"] = c.permissions(m).String()
	return o
}

// outline is a guild that is not available.
func (g *Guild) outline() object { return object{"id": g.ID, "unavailable": true} }

// wire is the wire form of a guild as GET gives it.
func (g *Guild) wire() object {
	roles := []object{}
	for _, r := range g.roles {
		roles = append(roles, r.wire())
	}
	return object{
		"id": g.ID, "name": g.Name, "icon": nil, "description": nil, "home_header": nil, "splash": nil,
		"discovery_splash": nil, "features": []string{}, "banner": nil, "owner_id": g.Owner.ID, "application_id": nil,
		"region": "deprecated", "afk_channel_id": nil, "afk_timeout": 300, "system_channel_id": nil,
		"system_channel_flags": 0, "widget_enabled": false, "widget_channel_id": nil, "verification_level": 0,
		"roles": roles, "default_message_notifications": 0, "mfa_level": 0, "explicit_content_filter": 0,
		"max_presences": nil, "max_members": 500000, "max_stage_video_channel_users": 50, "max_video_channel_users": 25,
		"vanity_url_code": nil, "premium_tier": 0, "premium_subscription_count": 0, "preferred_locale": g.Locale,
		"rules_channel_id": nil, "safety_alerts_channel_id": nil, "public_updates_channel_id": nil,
		"premium_progress_bar_enabled": false, "nsfw": false, "nsfw_level": 0, "emojis": []any{}, "stickers": []any{},
		"incidents_data": nil,
	}
}

// full is the wire form that GUILD_CREATE carries. Without the members intent, Discord sends the bot's own member only.
func (g *Guild) full() object {
	o := g.wire()
	channels, threads := []object{}, []object{}
	for _, c := range g.channels {
		switch {
		case c.parent == nil:
			channels = append(channels, c.wire())
		case c.sees(g.s.app.bot) && !c.archived:
			threads = append(threads, c.wire())
		}
	}
	o["joined_at"], o["large"], o["unavailable"], o["member_count"] = stamp(BornAt(g.ID)), len(g.joined) > 50, false, len(g.joined)
	o["voice_states"], o["presences"], o["stage_instances"] = []any{}, []any{}, []any{}
	o["guild_scheduled_events"], o["soundboard_sounds"] = []any{}, []any{}
	o["members"] = []object{g.joined[g.s.app.ID].withUser()}
	o["channels"], o["threads"] = channels, threads
	return o
}

package chattest

import (
	"maps"
	"slices"
	"strings"
)

func getGateway(c *call) (answer, error) {
	return answer{200, object{"url": c.s.gatewayURL(c.Request)}}, nil
}

func getGatewayBot(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	defer s.mu.Unlock()
	return answer{200, object{"url": s.gatewayURL(c.Request), "shards": s.settings.shards, "session_start_limit": object{
		"total": 1000, "remaining": s.budget.remaining, "reset_after": 86_400_000, "max_concurrency": s.settings.concurrency,
	}}}, nil
}

func getMe(c *call) (answer, error) {
	me := c.s.app.bot.user()
	me["mfa_enabled"], me["locale"], me["verified"], me["email"] = true, "en-US", true, nil
	return answer{200, me}, nil
}

func getApplication(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	defer s.mu.Unlock()
	owner := object{
		"id": s.app.ID, "username": "owner", "global_name": "owner", "discriminator": "0", "avatar": nil,
		"public_flags": 0, "flags": 0, "primary_guild": nil,
	}
	return answer{200, object{
		"id": s.app.ID, "name": s.app.bot.Name, "icon": nil, "description": "", "type": nil, "verify_key": strings.Repeat("0", 64),
		"flags": s.appFlags(), "flags_new": "0", "redirect_uris": []any{}, "interactions_endpoint_url": nil,
		"role_connections_verification_url": nil, "owner": owner, "approximate_guild_count": len(s.guilds),
		"approximate_user_install_count": 0, "approximate_user_authorization_count": 0, "explicit_content_filter": 0,
		"team": nil, "eligible_oauth2_scopes": []any{}, "bot": s.app.bot.user(), "bot_public": true, "bot_require_code_grant": false,
	}}, nil
}

func getMyGuilds(c *call) (answer, error) {
	s := c.s
	s.mu.Lock()
	defer s.mu.Unlock()
	out := []object{}
	for _, id := range slices.SortedFunc(maps.Keys(s.guilds), byID) {
		if g := s.guilds[id]; !g.gone && byID(id, c.URL.Query().Get("after")) > 0 && len(out) < 200 {
			out = append(out, object{
				"id": g.ID, "name": g.Name, "icon": nil, "banner": nil, "owner": false, "features": []string{},
				"permissions": g.permissions(g.joined[s.app.ID]).String(),
			})
		}
	}
	return answer{200, out}, nil
}

// byID orders snowflakes by age; they have no leading zeros.
func byID(a, b string) int {
	if len(a) != len(b) {
		return len(a) - len(b)
	}
	return strings.Compare(a, b)
}

func getUser(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	m := c.s.members[c.part("user")]
	if m == nil {
		return answer{}, unknownUser
	}
	return answer{200, m.user()}, nil
}

// guild finds the guild of the path, which the bot must be in. The caller holds s.mu.
func (c *call) guild() (*Guild, error) {
	g := c.s.guilds[c.part("guild")]
	if g == nil {
		return nil, unknownGuild
	}
	if g.gone {
		return nil, missingAccess
	}
	return g, nil
}

func getGuild(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	g, err := c.guild()
	if err != nil {
		return answer{}, err
	}
	return answer{200, g.wire()}, nil
}

func leaveGuild(c *call) (answer, error) {
	c.s.mu.Lock()
	g, err := c.guild()
	c.s.mu.Unlock()
	if err != nil {
		return answer{}, err
	}
	g.Remove()
	return answer{}, nil
}

func getGuildChannels(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	g, err := c.guild()
	if err != nil {
		return answer{}, err
	}
	out := []object{}
	for _, ch := range g.channels {
		if ch.parent == nil {
			out = append(out, ch.wire())
		}
	}
	return answer{200, out}, nil
}

func getGuildRoles(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	g, err := c.guild()
	if err != nil {
		return answer{}, err
	}
	out := []object{}
	for _, r := range g.roles {
		out = append(out, r.wire())
	}
	return answer{200, out}, nil
}

func getGuildMember(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	g, err := c.guild()
	if err != nil {
		return answer{}, err
	}
	id := c.part("user")
	if c.s.members[id] == nil {
		return answer{}, unknownUser
	}
	if g.joined[id] == nil {
		return answer{}, unknownMember
	}
	return answer{200, g.joined[id].withUser()}, nil
}

// channel finds the channel of the path, in which the bot must have these permissions. The caller holds s.mu.
func (c *call) channel(need Permissions) (*Channel, error) {
	ch := c.s.channels[c.part("channel")]
	if ch == nil {
		return nil, unknownChannel
	}
	bot := c.s.app.bot
	if ch.guild != nil && (ch.guild.gone || !ch.sees(bot)) {
		return nil, missingAccess
	}
	if ch.permissions(bot)&need != need {
		return nil, missingPermissions
	}
	return ch, nil
}

func getChannel(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	ch, err := c.channel(0)
	if err != nil {
		return answer{}, err
	}
	return answer{200, ch.wire()}, nil
}

func typing(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	_, err := c.channel(SendMessages)
	return answer{}, err
}

// editChannel changes a thread, the one kind of channel that a collector's bot makes, or a channel's name.
func editChannel(c *call) (answer, error) {
	c.s.mu.Lock()
	ch, err := c.channel(0)
	switch {
	case err != nil:
	case ch.parent != nil:
		err = ch.mayChange(c.body())
	default:
		_, err = c.channel(ManageChannels)
	}
	if err != nil {
		c.s.mu.Unlock()
		return answer{}, err
	}
	ch.change(c.body())
	wire := ch.wire()
	c.s.touch()
	c.s.mu.Unlock()
	name := "CHANNEL_UPDATE"
	if ch.parent != nil {
		name = "THREAD_UPDATE"
	}
	c.s.dispatch(event{name: name, guild: ch.guild, intent: Guilds, data: ch.wire})
	return answer{200, wire}, nil
}

func deleteChannel(c *call) (answer, error) {
	c.s.mu.Lock()
	ch, err := c.channel(0)
	if err == nil && ch.parent != nil {
		_, err = c.channel(ManageThreads)
	} else if err == nil && ch.guild != nil {
		_, err = c.channel(ManageChannels)
	}
	if err != nil {
		c.s.mu.Unlock()
		return answer{}, err
	}
	wire := ch.wire()
	c.s.mu.Unlock()
	if ch.guild != nil {
		ch.Delete()
	}
	return answer{200, wire}, nil
}

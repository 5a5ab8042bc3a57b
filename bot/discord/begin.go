package discord

import (
	"context"
	"net/http"

	"spareounce/bot"
)

// sayBegin says where a group stands with its first steps, with menus for what only this chat has: the channel for posts,
// the role whose holders keep the group, and whether threads may be opened.
func (s *Service) sayBegin(ctx context.Context, e *exchange, group string, r bot.Reply) error {
	g, err := s.bot.Group(ctx, group)
	if err != nil {
		return err
	}
	place := e.words(bot.ChatPostsNone)
	if g.Channel != "" {
		place = e.words(bot.ChatPostsHere, "channel", "#"+s.channelName(ctx, g.Channel))
		lacks, err := s.lacking(ctx, group, g.Channel, needed(g.Threads))
		if err != nil {
			s.log.InfoContext(ctx, "our permissions are not known", "err", err)
		} else if len(lacks) > 0 {
			place += " " + lacksWords(e.i.Locale, s.channelName(ctx, g.Channel), lacks)
		}
	}
	keepers := e.words(bot.ChatKeeperNone)
	if g.KeeperRole != "" {
		keepers = e.words(bot.ChatKeeperRole, "role", s.roleName(ctx, group, g.KeeperRole))
	}
	threads := e.words(bot.ChatThreadsOff)
	if g.Threads {
		threads = e.words(bot.ChatThreadsOn)
	}
	r.Text += "\n" + place + "\n" + keepers + "\n" + threads
	messages, err := s.compose(ctx, group, e.i.account(), r)
	if err != nil {
		return err
	}
	last := &messages[len(messages)-1]
	menus, err := s.beginMenus(ctx, e, g)
	if err != nil {
		return err
	}
	last.Components = append(last.Components, menus...)
	for i := range messages {
		messages[i].Flags |= onlyForYou
	}
	return e.send(ctx, messages, true)
}

// beginMenus are the menus of the first steps.
func (s *Service) beginMenus(ctx context.Context, e *exchange, g bot.Group) ([]component, error) {
	kinds := []kind{picksPlace, picksRole, threadsOn}
	if g.Threads {
		kinds[2] = threadsOff
	}
	var rows []component
	for _, k := range kinds {
		id, err := s.seal.pack(ctx, s.bot, sealed{k, g.Chat, e.i.account(), ""})
		if err != nil {
			return nil, err
		}
		c := component{ID: id}
		switch k {
		case picksPlace:
			c.Type, c.Placeholder, c.Kinds = channelMenu, e.words(bot.ChatPickChannel), []int{0}
		case picksRole:
			none := 0
			c.Type, c.Placeholder, c.MinValues = roleMenu, e.words(bot.ChatPickRole), &none
		case threadsOn:
			c.Type, c.Style, c.Label = button, styleSecondary, e.words(bot.ChatThreadsYes)
		case threadsOff:
			c.Type, c.Style, c.Label = button, styleSecondary, e.words(bot.ChatThreadsNo)
		}
		rows = append(rows, component{Type: row, Components: []component{c}})
	}
	return rows, nil
}

// arrange hears a choice of the first steps. Choosing nothing takes the role away.
func (s *Service) arrange(ctx context.Context, e *exchange, v sealed, values []string) error {
	g, speaker, err := s.where(ctx, e, v.group)
	if err != nil {
		return err
	}
	if !speaker.Keeper {
		return e.tell(ctx, e.words(bot.ChatKeeperOnly))
	}
	chosen := ""
	if len(values) > 0 {
		chosen = values[0]
	}
	err = s.bot.Arrange(ctx, g.Chat, func(g *bot.Group) {
		switch v.kind {
		case picksPlace:
			g.Channel = chosen
		case picksRole:
			g.KeeperRole = chosen
		case threadsOn, threadsOff:
			g.Threads = v.kind == threadsOn
		}
	})
	if err != nil {
		return err
	}
	if g, err = s.bot.Group(ctx, g.Chat); err != nil {
		return err
	}
	switch {
	case v.kind == picksRole && chosen == "":
		return e.tell(ctx, e.words(bot.ChatRoleNone))
	case v.kind == picksRole:
		return e.tell(ctx, e.words(bot.ChatRoleSet, "role", s.roleName(ctx, g.Chat, chosen)))
	case v.kind == threadsOff:
		return e.tell(ctx, e.words(bot.ChatThreadsOff))
	}
	return s.sayPlace(ctx, e, g, v.kind)
}

// sayPlace says what is now so of the channel for posts, and exactly what we lack there.
func (s *Service) sayPlace(ctx context.Context, e *exchange, g bot.Group, k kind) error {
	if g.Channel == "" {
		return e.tell(ctx, e.words(bot.ChatPostsNone))
	}
	name := s.channelName(ctx, g.Channel)
	lacks, err := s.lacking(ctx, g.Chat, g.Channel, needed(g.Threads))
	switch {
	case err != nil:
		return err
	case len(lacks) > 0:
		return e.tell(ctx, e.words(bot.ChatChannelBad, "channel", "#"+name)+" "+lacksWords(e.i.Locale, name, lacks))
	case k == threadsOn:
		return e.tell(ctx, e.words(bot.ChatThreadsOn))
	}
	return e.tell(ctx, e.words(bot.ChatChannelSet, "channel", "#"+name))
}

// channelName is what a channel is called; its id when we may not know.
func (s *Service) channelName(ctx context.Context, channel string) string {
	var c struct {
		Name string `json:"name"`
	}
	err := s.door.do(ctx, call{method: http.MethodGet, path: []string{"channels", channel}, route: "/channels/{channel}", place: channel, again: true, soon: true}, &c)
	if err != nil || c.Name == "" {
		return channel
	}
	return c.Name
}

// roleName is what a role is called; its id when we can't find out.
func (s *Service) roleName(ctx context.Context, guild, role string) string {
	var roles []struct {
		ID   string `json:"id"`
		Name string `json:"name"`
	}
	err := s.door.do(ctx, call{method: http.MethodGet, path: []string{"guilds", guild, "roles"}, route: "/guilds/{guild}/roles", place: guild, again: true, soon: true}, &roles)
	if err == nil {
		for _, r := range roles {
			if r.ID == role {
				return r.Name
			}
		}
	}
	return role
}

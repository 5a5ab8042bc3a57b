package chattest

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
)

// The published description has no gateway events, but it has what they carry: users, members, messages, channels, roles
// and attachments. eventParts says where in which event they are; a * stands for every key or index.
var eventParts = map[string]map[string][]string{
	"MESSAGE_CREATE":    {"": {"MessageResponse"}},
	"MESSAGE_UPDATE":    {"": {"MessageResponse"}},
	"CHANNEL_CREATE":    {"": {"GuildChannelResponse"}},
	"CHANNEL_UPDATE":    {"": {"GuildChannelResponse"}},
	"THREAD_CREATE":     {"": {"ThreadResponse"}},
	"THREAD_UPDATE":     {"": {"ThreadResponse"}},
	"GUILD_MEMBER_ADD":  {"": {"GuildMemberResponse"}},
	"GUILD_ROLE_CREATE": {"role": {"GuildRoleResponse"}},
	"GUILD_ROLE_UPDATE": {"role": {"GuildRoleResponse"}},
	"GUILD_CREATE": {
		"": {"GuildResponse"}, "channels.*": {"GuildChannelResponse"}, "threads.*": {"ThreadResponse"},
		"members.*": {"GuildMemberResponse"},
	},
	"INTERACTION_CREATE": {
		"user": {"UserResponse"}, "member": {"GuildMemberResponse"}, "message": {"MessageResponse"},
		"channel":                     {"GuildChannelResponse", "ThreadResponse", "PrivateChannelResponse"},
		"data.resolved.users.*":       {"UserResponse"},
		"data.resolved.roles.*":       {"GuildRoleResponse"},
		"data.resolved.channels.*":    {"GuildChannelResponse", "ThreadResponse"},
		"data.resolved.messages.*":    {"MessageResponse"},
		"data.resolved.attachments.*": {"MessageAttachmentResponse"},
	},
}

// checkEvent holds an event of this stand-in to the description. The caller holds s.mu.
func (s *Server) checkEvent(name string, data object) {
	if s.checks == nil {
		return
	}
	if err := s.checks.event(name, data); err != nil {
		s.mu.Unlock()
		s.problem("the stand-in's own event " + name + " is wrong: " + err.Error())
		s.mu.Lock()
	}
}

func (d *description) event(name string, data object) error {
	parts := eventParts[name]
	if len(parts) == 0 {
		return nil
	}
	raw, err := json.Marshal(data)
	if err != nil {
		return err
	}
	var tree any
	if err := json.Unmarshal(raw, &tree); err != nil {
		return err
	}
	var errs []error
	for path, schemas := range parts {
		for _, part := range pick(tree, path) {
			if wrong := d.one(part, schemas); len(wrong) > 0 {
				errs = append(errs, fmt.Errorf("%s: %v", path, wrong))
			}
		}
	}
	return errors.Join(errs...)
}

// one says what is wrong with a part that must follow one of several schemas; of these, what the likeliest says.
func (d *description) one(part any, schemas []string) []fieldError {
	var best []fieldError
	for i, name := range schemas {
		wrong := against(d.schemas[name].Value, part)
		if len(wrong) == 0 {
			return nil
		}
		if i == 0 || likelier(wrong, best) {
			best = wrong
		}
	}
	return best
}

// pick lists what stands at a path.
func pick(tree any, path string) []any {
	if path == "" {
		return []any{tree}
	}
	key, rest, _ := strings.Cut(path, ".")
	var out []any
	switch v := tree.(type) {
	case object:
		for k, x := range v {
			if key == "*" || k == key {
				out = append(out, pick(x, rest)...)
			}
		}
	case []any:
		if key == "*" {
			for _, x := range v {
				out = append(out, pick(x, rest)...)
			}
		}
	}
	return out
}

package chattest

import "strings"

// A route is one endpoint of the API that the stand-in knows.
type route struct {
	method string
	parts  []string // of the path; {name} matches any one part
	open   bool     // reached with the token in its path, without the bot's token
	free   bool     // outside the limit over all: the interaction endpoints
	handle func(*call) (answer, error)
	rules  func(*call, *verdict) // the hand-written rules for its form
}

var routes = func() []*route {
	var out []*route
	add := func(method, path string, handle func(*call) (answer, error)) *route {
		r := &route{method: method, parts: strings.Split(path, "/"), handle: handle}
		out = append(out, r)
		return r
	}
	add("GET", "/gateway", getGateway).open = true
	add("GET", "/gateway/bot", getGatewayBot)
	add("GET", "/users/@me", getMe)
	add("GET", "/users/@me/guilds", getMyGuilds)
	add("DELETE", "/users/@me/guilds/{guild}", leaveGuild)
	add("POST", "/users/@me/channels", createDM)
	add("GET", "/users/{user}", getUser)
	add("GET", "/applications/@me", getApplication)
	add("GET", "/oauth2/applications/@me", getApplication)
	for _, scope := range []string{"", "/guilds/{guild}"} {
		base := "/applications/{application}" + scope + "/commands"
		add("GET", base, listCommands)
		add("PUT", base, putCommands).rules = commandsRules
		add("POST", base, createCommand).rules = commandRules
		add("GET", base+"/{command}", getCommand)
		add("PATCH", base+"/{command}", editCommand)
		add("DELETE", base+"/{command}", deleteCommand)
	}
	add("GET", "/guilds/{guild}", getGuild)
	add("GET", "/guilds/{guild}/channels", getGuildChannels)
	add("GET", "/guilds/{guild}/threads/active", listActiveThreads)
	add("GET", "/guilds/{guild}/roles", getGuildRoles)
	add("GET", "/guilds/{guild}/members/{user}", getGuildMember)
	add("GET", "/channels/{channel}", getChannel)
	add("PATCH", "/channels/{channel}", editChannel).rules = channelRules
	add("DELETE", "/channels/{channel}", deleteChannel)
	add("POST", "/channels/{channel}/typing", typing)
	add("GET", "/channels/{channel}/messages", listMessages)
	add("POST", "/channels/{channel}/messages", createMessage).rules = newMessageRules
	add("GET", "/channels/{channel}/messages/{message}", getMessage)
	add("PATCH", "/channels/{channel}/messages/{message}", editMessage).rules = editMessageRules
	add("DELETE", "/channels/{channel}/messages/{message}", deleteMessage)
	add("POST", "/channels/{channel}/messages/{message}/threads", createThread).rules = threadRules
	add("POST", "/channels/{channel}/threads", createThread).rules = threadRules
	add("GET", "/channels/{channel}/thread-members", listThreadMembers)
	add("GET", "/channels/{channel}/thread-members/{user}", ofThreadMember(getThreadMember))
	add("PUT", "/channels/{channel}/thread-members/{user}", ofThreadMember(addThreadMember))
	add("DELETE", "/channels/{channel}/thread-members/{user}", ofThreadMember(removeThreadMember))
	hook := func(method, path string, handle func(*call) (answer, error)) *route {
		r := add(method, path, handle)
		r.open, r.free = true, true
		return r
	}
	callback := hook("POST", "/interactions/{interaction}/{token}/callback", callback)
	callback.rules = callbackRules
	hook("POST", "/webhooks/{application}/{token}", followUp).rules = webhookRules
	for _, id := range []string{"@original", "{message}"} {
		hook("GET", "/webhooks/{application}/{token}/messages/"+id, getAnswer)
		hook("PATCH", "/webhooks/{application}/{token}/messages/"+id, editAnswer).rules = editMessageRules
		hook("DELETE", "/webhooks/{application}/{token}/messages/"+id, deleteAnswer)
	}
	return out
}()

// match finds the route of a request, or nil.
func match(method, path string) *route {
	parts := strings.Split(path, "/")
	for _, r := range routes {
		if r.method == method && r.fits(parts) {
			return r
		}
	}
	return nil
}

func pathKnown(path string) bool {
	parts := strings.Split(path, "/")
	for _, r := range routes {
		if r.fits(parts) {
			return true
		}
	}
	return false
}

func (r *route) fits(parts []string) bool {
	if len(parts) != len(r.parts) {
		return false
	}
	for i, p := range r.parts {
		if !strings.HasPrefix(p, "{") && p != parts[i] {
			return false
		}
	}
	return true
}

// template is the route as it is written in the table.
func (r *route) template() string { return strings.Join(r.parts, "/") }

// part gives the part of the path that stands where the route says {name}.
func (c *call) part(name string) string {
	parts := strings.Split(c.path, "/")
	for i, p := range c.route.parts {
		if p == "{"+name+"}" {
			return parts[i]
		}
	}
	return ""
}

// where names what a request is for, without the tokens in its path.
func (r *route) where(c *call) string {
	if r == nil {
		return c.path
	}
	return r.template()
}

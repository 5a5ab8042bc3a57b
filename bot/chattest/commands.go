package chattest

import (
	"maps"
	"net/http"
	"slices"
	"strconv"
	"time"
)

// Command types.
const (
	slashCommand   = 1
	userCommand    = 2
	messageCommand = 3
)

// The option types of commands.
const (
	optSub         = 1
	optGroup       = 2
	optString      = 3
	optInteger     = 4
	optBoolean     = 5
	optUser        = 6
	optChannel     = 7
	optRole        = 8
	optMentionable = 9
	optNumber      = 10
	optAttachment  = 11
)

// A command is one application command as it is registered.
type command struct {
	id, version, guild string
	name               string
	kind               int
	form               object // as the application sent it
}

func newCommand(s *Server, guild string, form object) *command {
	c := &command{id: s.newID(), guild: guild, kind: slashCommand, form: form, name: text(form["name"])}
	if k := number(form["type"]); k > 0 {
		c.kind = k
	}
	c.version = s.newID()
	return c
}

// wire is the wire form of a command, with its defaults filled in and nulls left out.
func (c *command) wire(app string) object {
	o := object{
		"description": "", "nsfw": false, "integration_types": []any{0}, "contexts": nil,
		"name_localizations": nil, "description_localizations": nil,
	}
	for k, v := range c.form {
		if v != nil {
			o[k] = v
		}
	}
	o["id"], o["application_id"], o["version"], o["type"], o["name"] = c.id, app, c.version, c.kind, c.name
	o["default_member_permissions"] = nil
	switch p := c.form["default_member_permissions"].(type) {
	case string:
		o["default_member_permissions"] = p
	case float64:
		o["default_member_permissions"] = strconv.FormatInt(int64(p), 10)
	}
	if c.guild != "" {
		o["guild_id"] = c.guild
		delete(o, "contexts")
		delete(o, "integration_types")
	} else if o["dm_permission"] == nil {
		o["dm_permission"] = true
	}
	if list, ok := c.form["options"].([]any); ok {
		o["options"] = optionsOut(list)
	}
	return o
}

// optionsOut leaves out what an option does not have, as Discord's answers do.
func optionsOut(in []any) []any {
	out := []any{}
	for _, opt := range objects(in) {
		o := maps.Clone(opt)
		maps.DeleteFunc(o, func(k string, v any) bool { return v == nil })
		if list, ok := o["options"].([]any); ok {
			o["options"] = optionsOut(list)
		}
		out = append(out, o)
	}
	return out
}

// optionsOf lists a command's or sub-command's options.
func optionsOf(form object) []object {
	list, _ := form["options"].([]any)
	return objects(list)
}

// commands finds the application's commands of the path's guild, or the global ones. The caller holds s.mu.
func (c *call) commands() (guild string, list []*command, err error) {
	a := c.s.app
	if c.part("application") != a.ID {
		return "", nil, unknownApplication
	}
	guild = c.part("guild")
	if guild == "" {
		return "", a.global, nil
	}
	if g := c.s.guilds[guild]; g == nil || g.gone {
		return "", nil, missingAccess
	}
	return guild, a.byGuild[guild], nil
}

func (c *call) setCommands(guild string, list []*command) {
	if guild == "" {
		c.s.app.global = list
	} else {
		c.s.app.byGuild[guild] = list
	}
	c.s.touch()
}

func (c *call) wireAll(list []*command) []object {
	out := []object{}
	for _, cmd := range list {
		out = append(out, cmd.wire(c.s.app.ID))
	}
	return out
}

func listCommands(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	_, list, err := c.commands()
	if err != nil {
		return answer{}, err
	}
	return answer{200, c.wireAll(list)}, nil
}

// putCommands overwrites all commands. One that is there already, by name and type, keeps its id, and does not count as
// created.
func putCommands(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	guild, old, err := c.commands()
	if err != nil {
		return answer{}, err
	}
	list, _ := c.form.([]any)
	var out []*command
	made := 0
	for _, form := range objects(list) {
		cmd := newCommand(c.s, guild, form)
		if i := slices.IndexFunc(old, cmd.same); i >= 0 {
			cmd.id = old[i].id
		} else {
			made++
		}
		out = append(out, cmd)
	}
	if err := c.spend(guild, made); err != nil {
		return answer{}, err
	}
	c.setCommands(guild, out)
	return answer{200, c.wireAll(out)}, nil
}

// spend counts creations against the 200 a day that a guild, and the application globally, have.
func (c *call) spend(guild string, made int) error {
	const most = 200
	now := c.s.settings.now()
	day := slices.DeleteFunc(c.s.app.created[guild], func(at time.Time) bool { return now.Sub(at) > 24*time.Hour })
	if len(day)+made > most {
		return tooManyCreated
	}
	for range made {
		day = append(day, now)
	}
	c.s.app.created[guild] = day
	return nil
}

func (c *command) same(o *command) bool { return c.name == o.name && c.kind == o.kind }

// createCommand adds a command; one of the same name and type is overwritten.
func createCommand(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	guild, list, err := c.commands()
	if err != nil {
		return answer{}, err
	}
	cmd := newCommand(c.s, guild, c.body())
	if i := slices.IndexFunc(list, cmd.same); i >= 0 {
		cmd.id = list[i].id
		list[i] = cmd
		c.setCommands(guild, list)
		return answer{200, cmd.wire(c.s.app.ID)}, nil
	}
	if err := c.spend(guild, 1); err != nil {
		return answer{}, err
	}
	c.setCommands(guild, append(list, cmd))
	return answer{http.StatusCreated, cmd.wire(c.s.app.ID)}, nil
}

// one finds the command of the path. The caller holds s.mu.
func (c *call) one() (string, []*command, int, error) {
	guild, list, err := c.commands()
	if err != nil {
		return "", nil, 0, err
	}
	i := slices.IndexFunc(list, func(o *command) bool { return o.id == c.part("command") })
	if i < 0 {
		return "", nil, 0, unknownCommand
	}
	return guild, list, i, nil
}

func getCommand(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	_, list, i, err := c.one()
	if err != nil {
		return answer{}, err
	}
	return answer{200, list[i].wire(c.s.app.ID)}, nil
}

func editCommand(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	_, list, i, err := c.one()
	if err != nil {
		return answer{}, err
	}
	form := maps.Clone(list[i].form)
	maps.Copy(form, c.body())
	list[i].form, list[i].name, list[i].version = form, text(form["name"]), c.s.newID()
	return answer{200, list[i].wire(c.s.app.ID)}, nil
}

func deleteCommand(c *call) (answer, error) {
	c.s.mu.Lock()
	defer c.s.mu.Unlock()
	guild, list, i, err := c.one()
	if err != nil {
		return answer{}, err
	}
	c.setCommands(guild, slices.Delete(list, i, i+1))
	return answer{}, nil
}

package discord

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"strings"
	"time"

	"spareounce/bot"
)

// commandForm is a command as the service is told of it (Discord, Interactions, Application Commands), with nothing in it
// that says nothing.
type commandForm struct {
	Name         string            `json:"name"`
	Names        map[string]string `json:"name_localizations,omitempty"`
	Description  string            `json:"description,omitempty"`
	Descriptions map[string]string `json:"description_localizations,omitempty"`
	Type         int               `json:"type"`
	Options      []optionForm      `json:"options,omitempty"`
	Permissions  string            `json:"default_member_permissions,omitempty"`
	Contexts     []int             `json:"contexts"`
	Places       []int             `json:"integration_types"`
}

type optionForm struct {
	Type         int               `json:"type"`
	Name         string            `json:"name"`
	Names        map[string]string `json:"name_localizations,omitempty"`
	Description  string            `json:"description"`
	Descriptions map[string]string `json:"description_localizations,omitempty"`
	Required     bool              `json:"required,omitempty"`
	Choices      []choiceForm      `json:"choices,omitempty"`
	Autocomplete bool              `json:"autocomplete,omitempty"`
	MaxLength    int               `json:"max_length,omitempty"`
	Least        int               `json:"min_value,omitempty"`
}

type choiceForm struct {
	Name  string            `json:"name"`
	Names map[string]string `json:"name_localizations,omitempty"`
	Value string            `json:"value"`
}

// The kinds of option that we have, and the places where commands can be used.
const (
	textOption  = 3
	wholeOption = 4
	fileOption  = 11

	inServer  = 0
	inPrivate = 1
)

// locales are the service's names for the languages that we speak besides English.
var locales = map[string][]string{"de": {"de"}, "es": {"es-ES", "es-419"}, "fr": {"fr"}, "ja": {"ja"}}

// commandName is what the service knows a verb by: it takes no spaces.
func commandName(verb string) string { return strings.ReplaceAll(verb, " ", "-") }

// allCommands are the verbs and the command for a whole line.
func allCommands() []bot.Command {
	return append(bot.Commands(), bot.Command{Name: bot.Say, Fields: []bot.Field{{Name: "line", Required: true}}})
}

// commandNamed finds a command by the service's name for it. The command for a whole line makes a line of that line alone.
func commandNamed(name string) (bot.Command, bool) {
	for _, c := range allCommands() {
		if commandName(c.Name) == name {
			if c.Name == bot.Say {
				c.Name = ""
			}
			return c, true
		}
	}
	return bot.Command{}, false
}

// commandForms are all our commands.
func commandForms() []commandForm {
	tongues := bot.Forms()
	english := tongues["en"]
	var forms []commandForm
	for _, c := range allCommands() {
		own := english.Commands[c.Name]
		if own.Help == "" {
			own.Help = shorten(c.Help, 100) // a verb that has no words of its own for this yet
		}
		f := commandForm{Name: commandName(c.Name), Description: own.Help, Type: slashCommand, Contexts: []int{inServer, inPrivate}, Places: []int{0}}
		f.Names = said(func(t bot.FormWords) string { return commandName(t.Commands[c.Name].Name) })
		f.Descriptions = said(func(t bot.FormWords) string { return t.Commands[c.Name].Help })
		if c.Keeper {
			f.Contexts = []int{inServer}
			f.Permissions = "32" // Manage Server; a server may let others use it in its settings
		}
		f.Options = optionForms(c, english)
		forms = append(forms, f)
	}
	for _, menu := range []struct {
		kind int
		name func(bot.FormWords) string
	}{
		{memberCommand, func(t bot.FormWords) string { return t.Member }},
		{messageCommand, func(t bot.FormWords) string { return t.Message }},
	} {
		forms = append(forms, commandForm{Name: menu.name(english), Names: said(menu.name), Type: menu.kind, Contexts: []int{inServer}, Places: []int{0}})
	}
	return forms
}

// optionForms are the fields of a command, what must be filled in first: the service wants it so.
func optionForms(c bot.Command, english bot.FormWords) []optionForm {
	var must, may []optionForm
	for _, f := range c.Fields {
		o := optionForm{Type: textOption, Name: f.Name, Description: english.Fields[f.Name].Help, Required: f.Required}
		if o.Description == "" {
			o.Description = f.Name
		}
		o.Names = said(func(t bot.FormWords) string { return t.Fields[f.Name].Name })
		o.Descriptions = said(func(t bot.FormWords) string { return t.Fields[f.Name].Help })
		switch f.Kind {
		case bot.TextFile:
			o.Type = fileOption
		case bot.OneOf:
			for _, word := range f.Choices {
				o.Choices = append(o.Choices, choiceForm{english.Choices[word], said(func(t bot.FormWords) string { return t.Choices[word] }), word})
			}
		case bot.Free:
			o.Autocomplete = len(f.Offers)+len(f.KeeperOffers) > 0
		case bot.WholeNumber:
			o.Type, o.Least = wholeOption, 1
		case bot.TradeNumber:
			o.Type, o.Least, o.Autocomplete = wholeOption, 1, true
		default:
			o.Autocomplete = true
		}
		if f.Required {
			must = append(must, o)
		} else {
			may = append(may, o)
		}
	}
	return append(must, may...)
}

// said collects how the other languages say something.
func said(how func(bot.FormWords) string) map[string]string {
	words := map[string]string{}
	for tag, t := range bot.Forms() {
		for _, locale := range locales[tag] {
			if word := how(t); word != "" {
				words[locale] = word
			}
		}
	}
	return words
}

// registered is the name of the note that says what the service was last told.
const registered = "discord commands"

// register tells the service our commands when they are not what it was last told. One process does it.
func (s *Service) register(ctx context.Context) error {
	forms := commandForms()
	text, err := plainJSON(forms)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(append([]byte(s.door.api+"\n"+s.app+"\n"), text...))
	now := hex.EncodeToString(sum[:])
	for {
		was, err := s.bot.Note(ctx, registered)
		if err != nil || was == now {
			return err
		}
		mine, err := s.bot.Lease(ctx, registered, s.name, time.Minute)
		if err != nil {
			return err
		}
		if mine {
			break
		}
		if err := sleep(ctx, time.Second, nil); err != nil {
			return err
		}
	}
	defer func() { _ = s.bot.EndLease(context.WithoutCancel(ctx), registered, s.name) }()
	err = s.door.do(ctx, call{
		method: http.MethodPut, path: []string{"applications", s.app, "commands"}, route: "/applications/{application}/commands", body: forms, again: true,
	}, nil)
	if final(err) {
		s.log.ErrorContext(ctx, "the service will not have our commands: members go on with those that it knows", "err", err)
		return nil
	}
	if err != nil {
		return err
	}
	s.log.InfoContext(ctx, "the service knows our commands", "commands", len(forms))
	return s.bot.SaveNote(ctx, registered, now)
}

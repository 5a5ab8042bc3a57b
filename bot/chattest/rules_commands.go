package chattest

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// commandName is Discord's pattern for names of slash commands and options; they must also be in lower case.
var commandName = regexp.MustCompile(`^[-_'\p{L}\p{N}\p{Devanagari}\p{Thai}]{1,32}$`)

// locales are those that Discord knows (Discord, Reference, Locales).
var locales = strings.Fields(`id da de en-GB en-US es-ES es-419 fr hr it lt hu nl no pl pt-BR ro fi sv-SE vi tr cs el bg ru uk hi
	th zh-CN ja zh-TW ko`)

// The limits of commands (Discord, Application Commands).
const (
	mostSlash       = 100
	mostMenu        = 15
	mostCommandText = 8000
)

// commandsRules hold for a bulk overwrite.
func commandsRules(c *call, v *verdict) {
	all, _ := c.form.([]any)
	seen := map[string]bool{}
	kinds := map[int]int{}
	for i, o := range objects(all) {
		path := strconv.Itoa(i)
		v.command(path, o)
		kind := commandKind(o)
		kinds[kind]++
		key := strconv.Itoa(kind) + text(o["name"])
		if seen[key] {
			v.add(path+".name", "APPLICATION_COMMANDS_DUPLICATE_NAME", "Application command names must be unique")
		}
		seen[key] = true
	}
	if kinds[slashCommand] > mostSlash || kinds[userCommand] > mostMenu || kinds[messageCommand] > mostMenu {
		v.add("", "APPLICATION_COMMANDS_MAX_EXCEEDED", "Maximum number of application commands reached (%d slash, %d of each menu)", mostSlash, mostMenu)
	}
}

// commandRules hold for one new command.
func commandRules(c *call, v *verdict) { v.command("", c.body()) }

func commandKind(o object) int {
	if k := number(o["type"]); k > 0 {
		return k
	}
	return slashCommand
}

// command checks a command at a path.
func (v *verdict) command(at string, o object) {
	in := func(key string) string { return strings.TrimPrefix(at+"."+key, ".") }
	v.keys(at, o, []string{
		"id", "type", "name", "name_localizations", "description", "description_localizations", "options",
		"default_member_permissions", "dm_permission", "integration_types", "contexts", "nsfw", "handler",
	})
	if commandKind(o) != slashCommand {
		if n := utf8.RuneCountInString(text(o["name"])); n < 1 || n > 32 {
			v.wrong = append(v.wrong, badLength(in("name"), 1, 32))
		}
		if text(o["description"]) != "" {
			v.add(in("description"), "APPLICATION_COMMAND_CONTEXT_MENU_DESCRIPTION_INVALID", "Context menu commands cannot have description")
		}
		if full(o["options"]) {
			v.add(in("options"), "APPLICATION_COMMAND_CONTEXT_MENU_OPTIONS_INVALID", "Context menu commands cannot have options")
		}
		v.localized(at, o, false)
		return
	}
	v.named(at, o)
	v.options(in("options"), list(o["options"]), 0)
	if n := commandText(o); n > mostCommandText {
		v.add(at, "APPLICATION_COMMAND_TOO_LARGE", "Command exceeds maximum size (%d): its texts have %d signs", mostCommandText, n)
	}
}

// named checks a command's or option's name and description.
func (v *verdict) named(at string, o object) {
	in := func(key string) string { return strings.TrimPrefix(at+"."+key, ".") }
	if !goodName(text(o["name"])) {
		v.add(in("name"), "APPLICATION_COMMAND_INVALID_NAME", "Command name is invalid")
	}
	switch n := utf8.RuneCountInString(text(o["description"])); {
	case n == 0:
		v.wrong = append(v.wrong, required(in("description")))
	case n > 100:
		v.wrong = append(v.wrong, badLength(in("description"), 1, 100))
	}
	v.localized(at, o, true)
}

func goodName(s string) bool {
	return commandName.MatchString(s) && !strings.ContainsFunc(s, func(r rune) bool { return unicode.ToLower(r) != r })
}

// localized checks translations; those of slash commands' names follow the pattern too.
func (v *verdict) localized(at string, o object, slash bool) {
	for _, field := range []string{"name_localizations", "description_localizations"} {
		words, _ := o[field].(object)
		for locale, w := range words {
			path := strings.TrimPrefix(at+"."+field+"."+locale, ".")
			if !slices.Contains(locales, locale) {
				v.add(path, "BASE_TYPE_CHOICES", "Value must be one of {%s}.", strings.Join(locales, ", "))
			}
			n := utf8.RuneCountInString(text(w))
			switch {
			case field == "name_localizations" && slash && !goodName(text(w)):
				v.add(path, "APPLICATION_COMMAND_INVALID_NAME", "Command name is invalid")
			case field == "name_localizations" && (n < 1 || n > 32):
				v.wrong = append(v.wrong, badLength(path, 1, 32))
			case n < 1 || n > 100:
				v.wrong = append(v.wrong, badLength(path, 1, 100))
			}
		}
	}
}

// optionKeys are what any option may name.
var optionKeys = []string{
	"type", "name", "name_localizations", "description", "description_localizations", "required", "choices", "options",
	"channel_types", "min_value", "max_value", "min_length", "max_length", "autocomplete", "file_types",
}

// options checks the options of a command (depth 0), of a group (1) or of a sub-command (2).
func (v *verdict) options(at string, opts []object, depth int) {
	if len(opts) > 25 {
		v.wrong = append(v.wrong, badLength(at, 0, 25))
	}
	seen := map[string]bool{}
	optional, subs := false, 0
	for i, o := range opts {
		path := at + "." + strconv.Itoa(i)
		v.keys(path, o, optionKeys)
		v.named(path, o)
		if seen[text(o["name"])] {
			v.add(path+".name", "APPLICATION_COMMAND_OPTIONS_NAME_ALREADY_EXISTS", "Option name already exists")
		}
		seen[text(o["name"])] = true
		kind := number(o["type"])
		if kind == optSub || kind == optGroup {
			subs++
			if depth == 2 || depth == 1 && kind == optGroup {
				v.add(path+".type", "APPLICATION_COMMAND_OPTIONS_TYPE_INVALID", "Sub-commands cannot be nested any deeper")
			}
			inside := 2
			if kind == optGroup {
				inside = 1
			}
			v.options(path+".options", list(o["options"]), inside)
			continue
		}
		if o["required"] == true && optional {
			v.add(path, "APPLICATION_COMMAND_OPTIONS_REQUIRED_INVALID", "Required options must be placed before non-required options")
		}
		optional = optional || o["required"] != true
		v.option(path, o, kind)
	}
	if subs > 0 && subs < len(opts) {
		v.add(at, "APPLICATION_COMMAND_OPTIONS_TYPE_INVALID", "Sub-command and sub-command group option types are mutually exclusive to all other types")
	}
}

// option checks what an option of a plain type says beyond its name.
func (v *verdict) option(path string, o object, kind int) {
	offers := list(o["choices"])
	typed := kind == optString || kind == optInteger || kind == optNumber
	if len(offers) > 25 {
		v.wrong = append(v.wrong, badLength(path+".choices", 0, 25))
	}
	if o["autocomplete"] == true && (len(offers) > 0 || !typed) {
		v.add(path, "APPLICATION_COMMAND_OPTIONS_AUTOCOMPLETE_INVALID", "Only options of typed kinds, without choices, can autocomplete")
	}
	seen, values := map[string]bool{}, map[any]bool{}
	for i, c := range offers {
		at := path + ".choices." + strconv.Itoa(i)
		v.choice(at, c, kind)
		if seen[text(c["name"])] || values[c["value"]] {
			v.add(at, "APPLICATION_COMMAND_OPTIONS_CHOICE_NAME_ALREADY_EXISTS", "Choice name or value already exists")
		}
		seen[text(c["name"])], values[c["value"]] = true, true
	}
	for _, r := range [][2]string{{"min_value", "max_value"}, {"min_length", "max_length"}} {
		low, a := o[r[0]].(float64)
		high, b := o[r[1]].(float64)
		if a && b && low > high {
			v.add(path+"."+r[0], "APPLICATION_COMMAND_OPTIONS_RANGE_INVALID", "%s cannot exceed %s", r[0], r[1])
		}
	}
}

// commandText counts what the limit of 8000 counts: names, descriptions and values, of the command and its options, each
// in its longest translation.
func commandText(o object) int {
	longest := func(key string) int {
		n := utf8.RuneCountInString(text(o[key]))
		words, _ := o[key+"_localizations"].(object)
		for _, w := range words {
			n = max(n, utf8.RuneCountInString(text(w)))
		}
		return n
	}
	n := longest("name") + longest("description")
	for _, c := range list(o["choices"]) {
		n += utf8.RuneCountInString(text(c["value"])) + commandText(object{"name": c["name"], "name_localizations": c["name_localizations"]})
	}
	for _, c := range list(o["options"]) {
		n += commandText(c)
	}
	return n
}

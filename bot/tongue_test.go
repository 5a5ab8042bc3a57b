package bot

import (
	"bytes"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"spareounce/bot/tongue"
)

var update = flag.Bool("update", false, "give every language file the phrases that it lacks, empty, and take out those no longer said")

// said is a phrase as our code has it.
type said struct {
	name, file, text string
	kind             string // of a name; "" for a sentence
}

// everyPhrase reads the phrases out of the code, so that none can be forgotten.
func everyPhrase(t *testing.T) []said {
	t.Helper()
	var all []said
	for _, pattern := range []string{"words*.go", "picture/words*.go", "tongue/calendar.go", "tongue/row.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(parsed, func(n ast.Node) bool {
				spec, ok := n.(*ast.ValueSpec)
				if !ok {
					return true
				}
				if kind, ok := spec.Type.(*ast.Ident); !ok || !strings.EqualFold(kind.Name, "phrase") {
					return true
				}
				for i, name := range spec.Names {
					text, err := strconv.Unquote(spec.Values[i].(*ast.BasicLit).Value)
					if err != nil {
						t.Fatal(err)
					}
					all = append(all, said{name: name.Name, file: "bot/" + filepath.ToSlash(file), text: text})
				}
				return true
			})
		}
	}
	all = append(append(all, whatMatchSays(t)...), whatFormsSay()...)
	if len(all) < 700 {
		t.Fatalf("only %d phrases were found in the code", len(all))
	}
	return all
}

// whatFormsSay are the names and helps of commands, fields and choices.
func whatFormsSay() (all []said) {
	const file = "bot/words_commands.go"
	name := func(kind, english string) {
		all = append(all, said{name: "the name of a " + kind, file: file, text: english, kind: kind})
	}
	labels := func(kind string, labels map[string]Label) {
		for _, key := range slices.Sorted(maps.Keys(labels)) {
			name(kind, labels[key].Name)
			all = append(all, said{name: "the help of " + labels[key].Name + ", at most 100 letters", file: file, text: labels[key].Help})
		}
	}
	labels(commandName, english.Commands)
	labels(fieldName, english.Fields)
	for _, word := range slices.Sorted(maps.Keys(english.Choices)) {
		name(choiceName, english.Choices[word])
	}
	name(menuName, english.Member)
	name(menuName, english.Message)
	return all
}

// whatMatchSays reads out of match what its readers of shorthand and of measures say to members: what is given to say and
// wrong, the reason of a syntax error, and what metals are called.
func whatMatchSays(t *testing.T) (all []said) {
	t.Helper()
	for _, room := range []string{"series", "density"} {
		files, err := filepath.Glob("../match/" + room + "/*.go")
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			add := func(e ast.Expr) {
				if text, ok := e.(*ast.BasicLit); ok && text.Kind == token.STRING {
					unquoted, err := strconv.Unquote(text.Value)
					if err != nil {
						t.Fatal(err)
					}
					all = append(all, said{name: "said of what was typed", file: strings.TrimPrefix(filepath.ToSlash(file), "../"), text: unquoted})
				}
			}
			ast.Inspect(parsed, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.CallExpr:
					switch called := n.Fun.(type) {
					case *ast.Ident:
						if called.Name == "say" || called.Name == "Silver" {
							add(n.Args[0])
						}
					case *ast.SelectorExpr:
						if called.Sel.Name == "wrong" {
							add(n.Args[len(n.Args)-1])
						}
					}
				case *ast.CompositeLit:
					if n.Type == nil && len(n.Elts) == 3 && filepath.Base(file) == "materials.go" {
						add(n.Elts[0])
					}
					if kind, ok := n.Type.(*ast.Ident); ok && kind.Name == "SyntaxError" && len(n.Elts) == 3 {
						add(n.Elts[2])
					}
				}
				return true
			})
		}
	}
	all = slices.DeleteFunc(all, func(s said) bool { return s.text == "" })
	if len(all) < 60 {
		t.Fatalf("only %d texts were found in match", len(all))
	}
	return all
}

var placeIn = regexp.MustCompile(`\{[a-z]+\}`)

// TestEveryTongueSaysEveryPhrase looks in each language for every phrase, with the same places, lines and marks.
func TestEveryTongueSaysEveryPhrase(t *testing.T) {
	t.Parallel()
	all := everyPhrase(t)
	for _, tag := range tongue.Tags()[1:] {
		if *update {
			updatePO(t, tag, all)
			continue
		}
		own, _ := tongue.In(tag)
		phrases, left := own.Phrases(), own.Phrases() // several constants may have the same English
		names, leftNames := own.Names(), own.Names()
		for _, p := range all {
			there, ok := phrases[phrase(p.text)]
			if named := (tongue.Named{Kind: p.kind, Name: p.text}); p.kind != "" {
				there, ok = names[named]
				delete(leftNames, named)
			} else {
				delete(left, phrase(p.text))
			}
			switch {
			case !ok:
				t.Errorf("%s: %s says nothing of %q (run the test with -update, then fill it in)", tag, p.name, p.text)
			case !slices.Equal(places(p.text), places(there)):
				t.Errorf("%s: %s has the places %v, not %v: %s", tag, p.name, places(there), places(p.text), there)
			case strings.Count(p.text, "\n") != strings.Count(there, "\n"), strings.Count(p.text, "▸") != strings.Count(there, "▸"):
				t.Errorf("%s: %s has other lines or marks than the English: %s", tag, p.name, there)
			case strings.HasPrefix(p.name, "press") && len([]rune(there)) > 40:
				t.Errorf("%s: %s is too long for a button: %s", tag, p.name, there)
			}
		}
		for unsaid := range left {
			t.Errorf("%s: %q is said nowhere (run the test with -update)", tag, unsaid)
		}
		for unsaid := range leftNames {
			t.Errorf("%s: %v names nothing (run the test with -update)", tag, unsaid)
		}
		// Who asks to be forgotten is cut off the end of where a price came from (store.Forget).
		if there := own.Say(pastFrom); !strings.HasSuffix(there, " {name}") {
			t.Errorf("%s: the name does not stand last in %q", tag, there)
		}
	}
}

// places are the names of a phrase's places, each once.
func places(text string) []string {
	found := map[string]bool{}
	for _, p := range placeIn.FindAllString(text, -1) {
		found[p] = true
	}
	return slices.Sorted(maps.Keys(found))
}

// TestLanguageFilesAreWellFormed has GNU gettext's own tool look at the files.
func TestLanguageFilesAreWellFormed(t *testing.T) {
	t.Parallel()
	tool, err := exec.LookPath("msgfmt")
	if err != nil {
		t.Skip("not checked: msgfmt, of Debian's package gettext, is not installed")
	}
	for _, tag := range tongue.Tags()[1:] {
		if out, err := exec.Command(tool, "--check", "--output-file=/dev/null", filepath.Join("tongue", tag+".po")).CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", tag, err, out)
		}
	}
}

// updatePO writes a language's file anew in the order of the code, with what it says by now.
func updatePO(t *testing.T, tag string, all []said) {
	t.Helper()
	own, _ := tongue.In(tag)
	var b bytes.Buffer
	fmt.Fprintf(&b, "msgid \"\"\nmsgstr \"\"\n\"Language: %s\\n\"\n\"MIME-Version: 1.0\\n\"\n\"Content-Type: text/plain; charset=UTF-8\\n\"\n\"Content-Transfer-Encoding: 8bit\\n\"\n", tag)
	phrases, names := own.Phrases(), own.Names()
	done, lacks := map[tongue.Named]bool{}, 0
	for _, p := range all {
		named := tongue.Named{Kind: p.kind, Name: p.text}
		if done[named] {
			continue
		}
		done[named] = true
		there := phrases[phrase(p.text)]
		if p.kind != "" {
			there = names[named]
		}
		if there == "" {
			lacks++
		}
		fmt.Fprintf(&b, "\n#. %s\n#: %s\n", p.name, p.file)
		if placeIn.MatchString(p.text) {
			b.WriteString("#, python-brace-format\n")
		}
		if p.kind != "" {
			fmt.Fprintf(&b, "msgctxt %s\n", poQuoted(p.kind))
		}
		fmt.Fprintf(&b, "msgid %s\nmsgstr %s\n", poQuoted(p.text), poQuoted(there))
	}
	if err := os.WriteFile(filepath.Join("tongue", tag+".po"), b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Logf("%s: %d phrases to translate", tag, lacks)
}

// poQuoted writes a string as PO files have it: the letters as they are, and C's escapes.
func poQuoted(text string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`, "\t", `\t`).Replace(text) + `"`
}

// TestTypedVerbs: a verb in a member's language is understood, means one thing, and means nothing else in English.
func TestTypedVerbs(t *testing.T) {
	t.Parallel()
	for _, tag := range tongue.Tags()[1:] {
		in := voiceFor(tag)
		if !slices.Contains(everyLanguage, in.command("language")) {
			t.Errorf("%s: who does not speak English can't ask for it: %q", tag, in.command("language"))
		}
		for _, v := range verbs {
			own := in.command(v.name)
			for _, line := range []string{own + " harbour 84", strings.ToUpper(own) + " harbour 84", strings.ReplaceAll(own, "-", " ") + " harbour 84",
				bare.Replace(own) + " harbour 84", strings.ReplaceAll(own, "'", "’") + " harbour 84"} {
				if found, _, rest := findVerb(line, in); found.name != v.name || rest != "harbour 84" {
					t.Errorf("%s: %q is understood as %q with %q, not as %q", tag, line, found.name, rest, v.name)
				}
			}
		}
	}
}

// TestLinesQuotedCanBeSaid: a line that we quote as one to say begins, in every language, with a verb of it.
func TestLinesQuotedCanBeSaid(t *testing.T) {
	t.Parallel()
	quotes := map[string]*regexp.Regexp{
		"en": regexp.MustCompile(`"([^"]+)"`), "de": regexp.MustCompile(`„([^“]+)“`), "es": regexp.MustCompile(`«([^»]+)»`),
		"fr": regexp.MustCompile("«\u00a0([^»]+)\u00a0»"), "ja": regexp.MustCompile(`「([^」]+)」`),
	}
	verbsIn := func(text, tag string) (found []string) {
		for _, m := range quotes[tag].FindAllStringSubmatch(text, -1) {
			if v, _, _ := findVerb(m[1], voiceFor(tag)); v.run != nil {
				found = append(found, v.name)
			}
		}
		slices.Sort(found)
		return found
	}
	for _, p := range everyPhrase(t) {
		want := verbsIn(p.text, "en")
		for _, tag := range tongue.Tags()[1:] {
			own, _ := tongue.In(tag)
			there := own.Say(phrase(p.text))
			got := verbsIn(there, tag)
			for _, verb := range want {
				at := slices.Index(got, verb)
				if at < 0 {
					t.Errorf("%s: %s does not quote %q, as the English does, by what it is called there, %q: %s", tag, p.name, verb, voiceFor(tag).command(verb), there)
					break
				}
				got = slices.Delete(got, at, at+1)
			}
		}
	}
}

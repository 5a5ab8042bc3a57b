package main

import (
	"os/exec"
	"strings"
	"testing"
)

const module = "spareounce/"

// rooms says who may import what, by import path: for each guarded path, the only rooms that may. A folder stands for
// what is below it too. See DEVELOPERS.md.
var rooms = map[string][]string{
	"github.com/jackc/pgx/v5":           {"store"},
	"github.com/riverqueue/river":       {"store"},
	"github.com/robfig/cron/v3":         {"store"},
	"github.com/pelletier/go-toml/v2":   {"bot/seriesfile"},
	"github.com/fogleman/gg":            {"bot/picture"},
	"golang.org/x/image":                {"bot/picture"},
	"codeberg.org/go-pdf/fpdf":          {"bot/picture"},
	"github.com/bojanz/currency":        {"bot/money"},
	"github.com/leonelquinteros/gotext": {"bot/tongue"},
	"golang.org/x/term":                 {"cmd"},
	"github.com/alecthomas/kong":        {"cmd"},
	"github.com/bwmarrin/discordgo":     {"bot/discord"},
	"github.com/gorilla/websocket":      {"bot/chattest", "bot/discord"},
	"github.com/getkin/kin-openapi":     {"bot/chattest"},
	"golang.org/x/sys":                  {"store/pgrun", "store/storetest"},
	module + "cmd":                      {},
	module + "bot":                      {"bot", "cmd"},
	module + "store":                    {"store", "bot", "cmd"},
	module + "match/trade":              {"store", "bot", "cmd"},
	module + "testdata":                 {"cmd"},
	"net/http":                          {"bot/room", "bot/spot", "bot/discord", "bot/chattest"},
	"html/template":                     {"bot/room"},
}

// pure is what match must stay away from: the clock's and chance's doors, and the outside.
var pure = []string{"context", "math/rand", "math/rand/v2", "net", "os", "time/tzdata"}

func TestWallsStand(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, module+"...").Output()
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(out)) {
		words := strings.Fields(line)
		room := strings.TrimPrefix(words[0], module)
		for _, path := range words[1:] {
			for guarded, allowed := range rooms {
				if within(path, guarded) && !anyWithin(room, allowed) {
					t.Errorf("%s must not import %s", room, path)
				}
			}
			if within(room, "match") {
				if strings.Contains(path, ".") || within(path, "spareounce") && !within(path, module+"match") {
					t.Errorf("%s must not import %s: match is pure", room, path)
				}
				for _, p := range pure {
					if path == p {
						t.Errorf("%s must not import %s: match is pure", room, path)
					}
				}
			}
		}
	}
}

func within(path, folder string) bool { return path == folder || strings.HasPrefix(path, folder+"/") }

func anyWithin(room string, folders []string) bool {
	for _, f := range folders {
		if within(room, f) {
			return true
		}
	}
	return false
}

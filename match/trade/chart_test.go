package trade_test

import (
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spareounce/match/trade"
)

var update = flag.Bool("update", false, "rewrite testdata/chart.md")

func TestChart(t *testing.T) {
	const file = "testdata/chart.md"
	got := trade.Chart()
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("the chart is now\n%s\ninstead of\n%s\nif that is meant, run this test with -update", got, want)
	}
}

// Every kind of event the package declares has its line: what is new cannot be left out of the chart.
func TestChartKnowsEveryEvent(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	chart, events := trade.Chart(), 0
	for _, name := range files {
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Recv == nil || f.Name.Name != "apply" {
				continue
			}
			events++
			if event := f.Recv.List[0].Type.(*ast.Ident).Name; !strings.Contains(chart, "| "+event+" |") {
				t.Errorf("the chart lacks %s", event)
			}
		}
	}
	if events < 10 {
		t.Errorf("%d events found", events)
	}
}

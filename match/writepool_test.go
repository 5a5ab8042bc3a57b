package match

import (
	"bytes"
	"encoding/json"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// What is written is read back as it was.
func TestWrittenPoolIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallPool(5).Draw(t, "pool")
		p.Currency = "USD"
		var text bytes.Buffer
		if err := WritePool(&text, p); err != nil {
			t.Fatal(err)
		}
		again, err := ReadPool(bytes.NewReader(text.Bytes()))
		if err != nil {
			t.Fatalf("%v\n%s", err, &text)
		}
		if !reflect.DeepEqual(p, again) {
			t.Fatalf("%+v\n%+v\n%s", p, again, &text)
		}
	})
}

// A plan is written whole: every leg, piece, want and top-up stands in the file.
func TestWrittenPlanIsWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallPool(5).Draw(t, "pool")
		plan, bound := Clear(p, Options{Steps: 100_000})
		var text bytes.Buffer
		if err := WritePlan(&text, plan, bound); err != nil {
			t.Fatal(err)
		}
		var file struct {
			Trades []struct {
				Kind string
				Legs []struct {
					From, To Member
					Pieces   []Item
				}
				TopUps []TopUp
				Gain   int64
			}
			Gain, Bound int64
			Optimal     bool
		}
		if err := json.Unmarshal(text.Bytes(), &file); err != nil {
			t.Fatalf("%v\n%s", err, &text)
		}
		if file.Gain != int64(plan.Gain) || file.Bound != int64(bound.Gain) || file.Optimal != bound.Optimal || len(file.Trades) != len(plan.Trades) {
			t.Fatalf("%+v\n%s", plan, &text)
		}
		for i, one := range plan.Trades {
			read := file.Trades[i]
			if read.Kind != one.Kind.String() || read.Gain != int64(one.Gain) || len(read.Legs) != len(one.Legs) || len(read.TopUps) != len(one.TopUps) {
				t.Fatalf("%+v\n%+v", one, read)
			}
			for j, leg := range one.Legs {
				if read.Legs[j].From != leg.From || read.Legs[j].To != leg.To || !reflect.DeepEqual(read.Legs[j].Pieces, leg.Items) {
					t.Fatalf("%+v\n%+v", leg, read.Legs[j])
				}
			}
			for j, pay := range one.TopUps {
				if read.TopUps[j] != pay {
					t.Fatalf("%+v\n%+v", pay, read.TopUps[j])
				}
			}
		}
	})
}

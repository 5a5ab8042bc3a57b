package match

import (
	"encoding/json"
	"io"
	"strings"

	"spareounce/match/melt"
)

// WritePool writes a pool as ReadPool reads it, a line for each member, piece, spare, want and tariff, so that two exports
// can be compared line by line.
func WritePool(w io.Writer, p *Pool) error {
	f := &lineWriter{w: w}
	f.write(`{"currency":`, p.Currency, `,"ring":`, p.Ring, `,"chain":`, p.Chain, `,"min_gain":`, p.MinGain)
	writeList(f, "members", p.Members)
	writeList(f, "pieces", p.Pieces)
	writeList(f, "spares", p.Spares)
	writeList(f, "wants", p.Wants)
	if len(p.Postage) > 0 {
		writeList(f, "postage", p.Postage)
	}
	f.write("}\n")
	return f.err
}

// WritePlan writes a plan with its bound in the format of "spareounce clear", a line for each trade. The bound is on the
// gain of any plan, so it must come from a clearing in which everyone says yes.
func WritePlan(w io.Writer, plan Plan, b Bound) error {
	type item struct {
		Piece Piece `json:"piece"`
		Want  int   `json:"want"`
	}
	type leg struct {
		From   Member `json:"from"`
		To     Member `json:"to"`
		Pieces []item `json:"pieces"`
	}
	type topUp struct {
		From   Member     `json:"from"`
		To     Member     `json:"to"`
		Amount melt.Minor `json:"amount"`
	}
	type trade struct {
		Kind   string     `json:"kind"`
		Legs   []leg      `json:"legs"`
		TopUps []topUp    `json:"topups"`
		Gain   melt.Minor `json:"gain"`
	}
	trades := make([]trade, len(plan.Trades))
	for i, t := range plan.Trades {
		one := trade{Kind: t.Kind.String(), TopUps: []topUp{}, Gain: t.Gain}
		for _, l := range t.Legs {
			made := leg{From: l.From, To: l.To}
			for _, it := range l.Items {
				made.Pieces = append(made.Pieces, item(it))
			}
			one.Legs = append(one.Legs, made)
		}
		for _, pay := range t.TopUps {
			one.TopUps = append(one.TopUps, topUp(pay))
		}
		trades[i] = one
	}
	f := &lineWriter{w: w}
	f.write(`{"gain":`, plan.Gain, `,"bound":`, b.Gain, `,"optimal":`, b.Optimal)
	writeList(f, "trades", trades)
	f.write("}\n")
	return f.err
}

// lineWriter writes JSON in pieces and keeps the first error.
type lineWriter struct {
	w   io.Writer
	err error
}

// write writes punctuation, which is given as the even arguments, and values between.
func (f *lineWriter) write(punctuation string, rest ...any) {
	var text strings.Builder
	text.WriteString(punctuation)
	for i, v := range rest {
		if i%2 == 1 {
			text.WriteString(v.(string))
			continue
		}
		value, err := json.Marshal(v)
		if err != nil && f.err == nil {
			f.err = err
		}
		text.Write(value)
	}
	if f.err == nil {
		_, f.err = io.WriteString(f.w, text.String())
	}
}

func writeList[T any](f *lineWriter, key string, all []T) {
	f.write(",\n", key, ":[")
	for i, one := range all {
		if i > 0 {
			f.write(",")
		}
		f.write("\n", one)
	}
	f.write("]")
}

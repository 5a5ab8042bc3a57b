package seriesfile

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"spareounce/match/series"
)

// fillIn supplies what a file may leave unsaid: labels, and the slots of pieces that name none.
func (r *reader) fillIn() {
	for i := range r.s.Pieces {
		p := &r.s.Pieces[i]
		if p.Label == "" {
			p.Label = labelOf(*p)
		}
	}
	own := r.s.Slots
	r.s.Slots = nil
	for _, p := range r.s.Pieces {
		if !slices.Contains(r.slotCodes, p.Code) {
			r.s.Slots = append(r.s.Slots, series.Slot{Code: p.Code, Label: p.Label, Fill: []string{p.Code}})
		}
	}
	for _, slot := range own {
		if slot.Label == "" {
			slot.Label = slot.Code
		}
		r.s.Slots = append(r.s.Slots, slot)
	}
	if len(r.s.Checklists) == 0 && len(r.s.Pieces) > 0 {
		all := series.Checklist{Code: "pieces", Name: "every piece"}
		for _, p := range r.s.Pieces {
			all.Slots = append(all.Slots, p.Code)
		}
		r.s.Checklists = []series.Checklist{all}
	}
}

// labelOf makes a label of a piece's year, variety and size.
func labelOf(p series.Piece) string {
	var words []string
	if p.Size != "" {
		words = append(words, p.Size)
	}
	if p.Year != 0 {
		words = append(words, fmt.Sprintf("%02d", p.Year%100))
	}
	if p.Variety != "" {
		words = append(words, p.Variety)
	}
	if len(words) == 0 {
		return p.Code
	}
	return strings.Join(words, " ")
}

var sizeShape = regexp.MustCompile(`^([1-9][0-9]{0,3}|1/[1-9][0-9]{0,2})oz$`)

func (r *reader) sizeOf(size string, v value) {
	if size != "" && !sizeShape.MatchString(size) {
		r.mistake(v.place, "a size is written like \"5oz\" or \"1/10oz\"")
	}
}

// aliases remembers where a piece's other words stand, and refuses those that stand for another already.
func (r *reader) aliases(p *series.Piece, v value) {
	for i, word := range p.Aliases {
		key := "alias " + strings.ToLower(word)
		if first, ok := r.where[key]; ok && word != "" {
			r.mistake(v.list[i].place, "alias %q stands already in line %d", word, first.line)
			continue
		}
		r.where[key] = v.list[i].place
	}
}

// check looks at the whole: what is named must be there, what is shown must be typable, and the numbers must agree.
func (r *reader) check() {
	if len(r.s.Pieces) == 0 {
		r.mistake(place{1, 1}, "the file lists no [[piece]]")
	}
	r.checkNames()
	r.checkMetal()
	if n := len(r.s.Pieces); r.s.Declared > 0 && r.s.Declared != n {
		at := r.where["declared"]
		r.remarks = append(r.remarks, Remark{
			File: r.file, Line: at.line, Column: at.column, Warning: true,
			Text: fmt.Sprintf("the maker declares %d pieces, %d are listed", r.s.Declared, n),
		})
	}
	if !Mistakes(r.remarks) {
		r.checkLabels()
	}
}

// checkNames looks up every code that a slot or a checklist names.
func (r *reader) checkNames() {
	for _, ref := range r.lists {
		if ref.code == "" {
			continue
		}
		if _, ok := r.s.Piece(ref.code); ref.piece && !ok {
			r.mistake(ref.place, "no piece has the code %q", ref.code)
		}
		if !ref.piece && !slices.ContainsFunc(r.s.Slots, func(slot series.Slot) bool { return slot.Code == ref.code }) {
			r.mistake(ref.place, "no slot or piece has the code %q", ref.code)
		}
	}
}

// checkMetal asks for a mass of every piece, or of the series.
func (r *reader) checkMetal() {
	for _, p := range r.s.Pieces {
		if metal := r.s.MetalOf(p); !metal.Known() && p.Metal.Gross == 0 {
			r.mistake(r.where["piece "+p.Code], "nothing says what piece %q weighs: give the series or the piece a \"gross\"", p.Code)
		}
	}
}

// checkLabels makes sure that the label of every piece, typed back, means that piece.
func (r *reader) checkLabels() {
	r.completeMetal()
	catalogue := series.NewCatalogue([]series.Series{r.s})
	for _, p := range r.s.Pieces {
		reading, err := catalogue.Read(r.s.Code+" "+p.Label, series.ForHoldings, series.Mine{})
		if err != nil || len(reading.Picks) != 1 || reading.Picks[0].Pieces[0] != p.Code {
			r.mistake(r.where["piece "+p.Code], "the label %q, typed, does not mean this piece alone; give it another", p.Label)
		}
	}
}

// completeMetal gives pieces with a mass of their own the series' fineness when they state none.
func (r *reader) completeMetal() {
	for i := range r.s.Pieces {
		m := &r.s.Pieces[i].Metal
		if m.Gross != 0 || m.Fine != 0 {
			if m.Fineness == 0 {
				m.Fineness = r.s.Metal.Fineness
			}
		}
	}
}

package series

import "strings"

// Condition is how a piece looks, in the plain words of people who trade bullion rounds (common practice: rounds are
// described in words, not graded by number). A higher condition satisfies a want for a lower one; Unsaid satisfies only
// a want that names none, for silence is no promise.
type Condition int

// The ladder, from worst to best.
const (
	Unsaid  Condition = iota // nobody has said
	Damaged                  // bent, holed, polished or gouged: metal value only
	Marked                   // scratches, rim knocks, spots
	Toned                    // colour or tarnish, no wear
	Bright                   // as struck
	Sealed                   // still in the maker's plastic
)

var conditionWords = map[string]Condition{
	"damaged": Damaged, "bent": Damaged, "holed": Damaged, "polished": Damaged, "cull": Damaged,
	"marked": Marked, "scratched": Marked, "spotted": Marked, "spots": Marked, "dinged": Marked, "worn": Marked,
	"toned": Toned, "tarnished": Toned,
	"bright": Bright, "bu": Bright, "uncirculated": Bright, "unc": Bright,
	"sealed": Sealed, "ogp": Sealed,
}

// ParseCondition reads one word of condition in any case; ok is false when it is not one.
func ParseCondition(word string) (c Condition, ok bool) {
	c, ok = conditionWords[strings.ToLower(word)]
	return c, ok
}

// String is the plain word, which ParseCondition reads back; "" for Unsaid.
func (c Condition) String() string {
	return [...]string{"", "damaged", "marked", "toned", "bright", "sealed"}[c]
}

// Meets reports whether a piece in condition c will do for a want of at least least.
func (c Condition) Meets(least Condition) bool { return c >= least }

package spot

import (
	"math/big"
	"regexp"
	"strconv"
	"strings"
)

// plainNumber is what is taken for a number: decimal, in the form of RFC 8259 section 6 or with a leading plus sign. What
// is longer or further from one than any price is refused before anything is computed with it.
var plainNumber = regexp.MustCompile(`^[-+]?[0-9]{1,20}(\.[0-9]{1,40})?([eE]([-+]?[0-9]{1,2}))?$`)

const largestExponent = 30

// number reads a number exactly.
func number(text string) (*big.Rat, bool) {
	m := plainNumber.FindStringSubmatch(text)
	if m == nil {
		return nil, false
	}
	if m[3] != "" {
		if e, err := strconv.Atoi(strings.TrimPrefix(m[3], "+")); err != nil || max(e, -e) > largestExponent {
			return nil, false
		}
	}
	return new(big.Rat).SetString(text)
}

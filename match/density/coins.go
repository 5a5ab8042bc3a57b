package density

import (
	"math"
	"strings"
)

// otherNames are what people call the coins, without spaces, in small letters and in the singular.
var otherNames = map[string]string{
	"nickel": "US 5 c", "usnickel": "US 5 c", "uscent5": "US 5 c", "us5cent": "US 5 c",
	"dime": "US 10 c", "usdime": "US 10 c", "us10cent": "US 10 c",
	"quarter": "US 25 c", "usquarter": "US 25 c", "us25cent": "US 25 c",
	"halfdollar": "US 50 c", "ushalfdollar": "US 50 c", "us50cent": "US 50 c",
	"50cent": "50 euro cent", "50ct": "50 euro cent", "50eurocents": "50 euro cent",
	"euro": "1 euro", "1eur": "1 euro", "eur1": "1 euro", "euro1": "1 euro",
	"2eur": "2 euro", "eur2": "2 euro", "euro2": "2 euro",
}

// mostCoins is as many as a scale for pieces can bear.
const mostCoins = 1000

// ReadScale reads coins weighed together: "50 x US 5c 249.8", "40 x 2 euro 340.1 g", "20 x 5g 100.1": how many, what
// coin or what one of them should weigh, and what the scale reads. The error is a *SyntaxError.
func ReadScale(text string) (ScaleCheck, error) {
	words, err := wordsOf(text)
	if err != nil {
		return ScaleCheck{}, err
	}
	if n := len(words); n > 0 && !words[n-1].number && units[strings.ToLower(words[n-1].text)].kind == dry && words[n-1].text != "kg" {
		words = words[:n-1] // the reading's own unit
	}
	if len(words) < 3 || !words[0].number || !words[len(words)-1].number {
		return ScaleCheck{}, &SyntaxError{0, "", "say how many coins, which, and what the scale reads"}
	}
	count, reading := words[0], words[len(words)-1]
	if count.decimals > 0 || count.typed < 1 || count.typed > mostCoins {
		return ScaleCheck{}, count.wrong("say how many coins, 20 to 50 of one kind")
	}
	if reading.typed <= 0 || reading.typed > mostGrams {
		return ScaleCheck{}, reading.wrong("say what the scale reads, in grams")
	}
	coin, err := coinNamed(words[1 : len(words)-1])
	if err != nil {
		return ScaleCheck{}, err
	}
	return ScaleCheck{int(count.typed), coin, reading.typed, math.Pow10(-reading.decimals)}, nil
}

// coinNamed finds a coin by name, or takes one by its mass in grams.
func coinNamed(words []word) (Coin, error) {
	var name strings.Builder
	var said []word
	for _, w := range words {
		switch lower := strings.ToLower(w.text); lower {
		case "x", "×", "of", "times", "coins", "reads", "read", "weigh", "weighs", "is", "are":
		default:
			name.WriteString(lower)
			said = append(said, w)
		}
	}
	if len(said) == 2 && said[0].number && units[said[1].text] == units["g"] {
		if grams := said[0].typed; grams > 0 && grams <= 100 {
			return Coin{Name: said[0].text + " g", Mass: grams}, nil
		}
		return Coin{}, said[0].wrong("a coin weighs more than nothing and at most 100 g")
	}
	for _, c := range coins {
		for _, typed := range []string{name.String(), strings.TrimSuffix(name.String(), "s")} {
			if typed == strings.ToLower(strings.ReplaceAll(c.Name, " ", "")) || otherNames[typed] == c.Name {
				return c, nil
			}
		}
	}
	if len(said) == 0 {
		return Coin{}, words[0].wrong("say which coin after this")
	}
	return Coin{}, said[0].wrong("a coin that I do not know; write what one should weigh instead, like 5g")
}

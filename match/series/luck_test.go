package series_test

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"spareounce/match/series"
)

func TestCouponCollector(t *testing.T) {
	f, err := os.Open("testdata/coupon_collector.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 10 {
		t.Fatal(len(rows), err)
	}
	for _, row := range rows[1:] {
		kinds, _ := strconv.Atoi(row[0])
		had, _ := strconv.Atoi(row[1])
		want, _ := strconv.ParseFloat(row[2], 64)
		l := series.Luck{Kinds: kinds, Lacking: kinds - had}
		if got := l.Mean(); math.Abs(got-want) > 0.00005001 {
			t.Errorf("%+v: %.4f draws, want %v", l, got, want)
		}
		if row[3] != "" {
			if published, err := strconv.ParseFloat(row[3], 64); err != nil || math.Abs(l.Mean()-published) > 1e-9*published {
				t.Errorf("%+v: %.10f draws, published %s", l, l.Mean(), row[3])
			}
		}
	}
}

// Trap: the mean is not an even chance. For 24 kinds the mean is 90.6 and the median 85.
func TestTheMeanIsNoEvenChance(t *testing.T) {
	l := series.Luck{Kinds: 24, Lacking: 24}
	if l.Median() != 85 {
		t.Errorf("median %d", l.Median())
	}
	if long := (series.Luck{Kinds: 229, Lacking: 229}); float64(long.Median()) >= long.Mean() {
		t.Errorf("median %d, mean %.0f", long.Median(), long.Mean())
	}
}

func TestLuckWithSwaps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "kinds")
		l := series.Luck{Kinds: n, Lacking: rapid.IntRange(0, n).Draw(t, "lacking")}
		if got := l.MeanWithSwaps(0); math.Abs(got-l.Mean()) > 1e-9*l.Mean() {
			t.Fatalf("no swaps: %v, alone %v", got, l.Mean())
		}
		if got := l.MeanWithSwaps(l.Lacking); got != float64(l.Lacking) {
			t.Fatalf("everything swapped for: %v of %+v", got, l)
		}
		for s := 1; s <= l.Lacking; s++ {
			if fewer, more := l.MeanWithSwaps(s-1), l.MeanWithSwaps(s); more > fewer+1e-9 {
				t.Fatalf("%+v: %d swaps take %v draws, one fewer takes %v", l, s, more, fewer)
			}
		}
	})
}

// Drawing it out by chance, many times over, comes to what is worked out: within four standard errors.
func TestLuckIsWhatHappens(t *testing.T) {
	chance := rand.New(rand.NewPCG(1, 2))
	const tries = 20_000
	for _, c := range []struct{ kinds, lacking, swaps int }{{12, 7, 0}, {12, 7, 3}, {24, 5, 5}, {9, 9, 4}} {
		var sum, squares float64
		for range tries {
			lacking, swaps, draws := c.lacking-c.swaps, c.swaps, 0
			for ; lacking+swaps > 0; draws++ {
				if chance.IntN(c.kinds) < lacking {
					lacking--
				} else if swaps > 0 {
					swaps--
				}
			}
			sum += float64(draws)
			squares += float64(draws) * float64(draws)
		}
		mean := sum / tries
		sure := math.Sqrt((squares/tries-mean*mean)/tries) * 4
		if got := (series.Luck{Kinds: c.kinds, Lacking: c.lacking}).MeanWithSwaps(c.swaps); math.Abs(got-mean) > sure+1e-9 {
			t.Errorf("%+v: worked out %.3f, drawn %.3f ± %.3f", c, got, mean, sure)
		}
	}
}

func TestLuckOfOddNumbers(t *testing.T) {
	for _, l := range []series.Luck{{}, {0, 5}, {-3, -3}, {5, -1}, {5, 0}} {
		if l.Mean() != 0 || l.Median() != 0 || l.MeanWithSwaps(3) != 0 {
			t.Errorf("%+v: %v, %d, %v", l, l.Mean(), l.Median(), l.MeanWithSwaps(3))
		}
	}
	if whole := (series.Luck{Kinds: 3, Lacking: 9}); math.Abs(whole.Mean()-5.5) > 1e-12 {
		t.Errorf("no more can lack than there are: %v", whole.Mean())
	}
}

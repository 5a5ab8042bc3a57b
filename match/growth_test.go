package match

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

var chart = flag.Bool("chart", false, "draw testdata/growth.svg from what BenchmarkGrowth measures")

// BenchmarkGrowth clears drawn groups of 30 to 10,000 members with rings to three and the same steps for each, and draws
// the chart if -chart is given: of the sizes that -bench selects.
func BenchmarkGrowth(b *testing.B) {
	var points []growthPoint
	for _, members := range []int{30, 100, 300, 1000, 3000, 10_000} {
		b.Run(fmt.Sprintf("%d members", members), func(b *testing.B) {
			p := drawGroup(1, members)
			for b.Loop() {
				m := measure(b, p, 60_000_000)
				m.report(b)
				points = append(points, growthPoint{members, m})
			}
		})
	}
	if *chart && len(points) > 0 {
		if err := os.WriteFile("testdata/growth.svg", []byte(growthChart(points)), 0o644); err != nil {
			b.Fatal(err)
		}
	}
}

type growthPoint struct {
	members int
	measured
}

// figure writes a number to two or three digits.
func figure(v float64) string {
	if v >= 100 {
		return strconv.Itoa(int(math.Round(v)))
	}
	return strconv.FormatFloat(v, 'g', 2, 64)
}

// growthChart draws memory and the gap by members, on a scale of powers of ten, told apart by how their lines are drawn,
// and says every figure in words.
func growthChart(points []growthPoint) string {
	series := []struct {
		name, unit, dash string
		of               func(growthPoint) float64
	}{
		{"memory at its peak", "MB", "", func(p growthPoint) float64 { return p.peak / 1e6 }},
		{"gap left", "%", "2 4", func(p growthPoint) float64 { return p.gap() }},
	}
	var said []string
	var svg strings.Builder
	const left, top, wide, high = 60.0, 40.0, 560.0, 300.0
	x := func(members int) float64 { return left + wide*(math.Log10(float64(members))-1.3)/2.9 }
	y := func(v float64) float64 { return top + high - high*(math.Log10(max(v, 0.01))+2)/6 }
	for e := -2; e <= 4; e++ {
		v := math.Pow(10, float64(e))
		fmt.Fprintf(&svg, `<line x1="%.0f" x2="%.0f" y1="%.1f" y2="%.1f" stroke="#ccc"/><text x="%.0f" y="%.1f" text-anchor="end">%g</text>`+"\n", left, left+wide, y(v), y(v), left-6, y(v)+4, v)
	}
	for i, s := range series {
		var line []string
		for _, p := range points {
			v := s.of(p)
			line = append(line, fmt.Sprintf("%.1f,%.1f", x(p.members), y(v)))
			fmt.Fprintf(&svg, `<text x="%.1f" y="%.1f" text-anchor="middle">%s %s</text>`+"\n", x(p.members), y(v)-7, figure(v), s.unit)
			said = append(said, fmt.Sprintf("%d members: %s %s %s", p.members, s.name, figure(v), s.unit))
		}
		fmt.Fprintf(&svg, `<polyline points="%s" fill="none" stroke="#222" stroke-width="2" stroke-dasharray="%s"/>`+"\n", strings.Join(line, " "), s.dash)
		fmt.Fprintf(&svg, `<line x1="%d" x2="%d" y1="20" y2="20" stroke="#222" stroke-width="2" stroke-dasharray="%s"/><text x="%d" y="24">%s, %s</text>`+"\n", 60+i*200, 90+i*200, s.dash, 96+i*200, s.name, s.unit)
	}
	for _, p := range points {
		fmt.Fprintf(&svg, `<text x="%.1f" y="%.0f" text-anchor="middle">%d</text>`+"\n", x(p.members), top+high+20, p.members)
	}
	fmt.Fprintf(&svg, `<text x="%.0f" y="%.0f" text-anchor="middle">members, rings to three, sixty million steps</text>`+"\n", left+wide/2, top+high+42)
	return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 680 400" font-family="sans-serif" font-size="12" role="img" aria-labelledby="t d">
<title id="t">What clearing takes, from %d to %d members</title>
<desc id="d">%s</desc>
<rect width="680" height="400" fill="#fff"/>
%s</svg>
`, points[0].members, points[len(points)-1].members, strings.Join(said, "; "), svg.String())
}

package density

import (
	"cmp"
	"math"
	"slices"

	"spareounce/match/melt"
)

// Densities of the elements that silver is mixed with or mistaken for, in g/cm³ at room temperature, each as two tables
// give it: the element list of GNU units 2.22, and the list of the xraylib project, which follows the NIST X-ray tables.
var (
	silver     = Range{10.49, 10.50}
	copper     = Range{8.96, 8.96}
	lead       = Range{11.34, 11.35}
	tungsten   = Range{19.3, 19.3}
	molybdenum = Range{10.19, 10.28} // the lower end from a metals density table
)

// Range is from where to where a material's density is given.
type Range struct{ Low, High float64 }

// Middle is halfway.
func (r Range) Middle() float64 { return (r.Low + r.High) / 2 }

// away is how far a density lies outside the range.
func (r Range) away(rho float64) float64 { return max(r.Low-rho, rho-r.High, 0) }

// Material is a metal or an alloy that pieces are made of, or passed off as.
type Material struct {
	Name     string
	Range    Range
	Fineness melt.Fineness // of an alloy of silver and copper; 0 for anything else
}

// Silver is an alloy of silver with copper of a fineness, by the rule of mixtures. The rule gives 10.357 for sterling, for
// which a supplier's data sheet has 10.36.
func Silver(name string, f melt.Fineness) Material {
	share := float64(f) / float64(melt.Pure)
	mix := func(of float64) float64 { return Mix(Part{share, of}, Part{1 - share, copper.Middle()}) }
	return Material{name, Range{mix(silver.Low), mix(silver.High)}, f}
}

// materials are what a density is held against. Sources: elements as above; brass, nickel silver, cupronickel, stainless
// steel, steel and white metal from a metals density table; the finenesses from match/melt.
var materials = []Material{
	Silver("fine silver (.999)", 9990),
	Silver("Britannia silver (.958)", 9584),
	Silver("sterling silver (.925)", 9250),
	Silver("coin silver (.900)", 9000),
	Silver("silver .835", 8350),
	Silver("silver .800", 8000),
	Silver("silver .500", 5000),
	{"copper", copper, 0},
	{"cupronickel", Range{8.908, 8.94}, 0},
	{"nickel", Range{8.902, 8.908}, 0},
	{"brass", Range{8.43, 8.73}, 0},
	{"nickel silver (no silver in it)", Range{8.40, 8.90}, 0},
	{"bronze", Range{8.78, 8.92}, 0},
	{"iron or steel", Range{7.85, 7.874}, 0},
	{"stainless steel", Range{7.48, 8.00}, 0},
	{"tin", Range{7.265, 7.31}, 0},
	{"zinc", Range{7.133, 7.14}, 0},
	{"white metal", Range{7.1, 7.1}, 0},
	{"lead-tin", Range{9.13, 10.60}, 0},
	{"bismuth", Range{9.747, 9.78}, 0},
	{"molybdenum", molybdenum, 0},
	{"lead", lead, 0},
	{"palladium", Range{12.02, 12.023}, 0},
	{"tungsten", tungsten, 0},
	{"gold", Range{19.3, 19.32}, 0},
	{"platinum", Range{21.45, 21.45}, 0},
}

// Materials lists what a density is held against.
func Materials() []Material { return slices.Clone(materials) }

// Judgement is which materials a density fits, and which it excludes.
type Judgement struct {
	Measured
	Fits     []Material // closest first
	Excluded []Material // closest first
}

// Judge holds a density against the materials: what lies more than Coverage uncertainties outside a material's range
// excludes it.
func Judge(m Measured) Judgement {
	j := Judgement{Measured: m}
	for _, one := range materials {
		if m.Excludes(one) {
			j.Excluded = append(j.Excluded, one)
		} else {
			j.Fits = append(j.Fits, one)
		}
	}
	slices.SortStableFunc(j.Fits, func(a, b Material) int { // by the middle: a wide range says little
		return cmp.Compare(math.Abs(a.Range.Middle()-m.Density), math.Abs(b.Range.Middle()-m.Density))
	})
	slices.SortStableFunc(j.Excluded, func(a, b Material) int {
		return cmp.Compare(a.Range.away(m.Density), b.Range.away(m.Density))
	})
	return j
}

// Excludes reports whether the density is not consistent with a material.
func (m Measured) Excludes(one Material) bool { return one.Range.away(m.Density) > Coverage*m.U }

// LookAlikes are mixtures of cheap metals that have just the density of fine silver: no density test tells them from it.
func LookAlikes() []Mixture {
	rho := silver.Low
	return []Mixture{
		{"lead", "copper", ShareOf(rho, lead.Low, copper.Low)},
		{"tungsten", "copper", ShareOf(rho, tungsten.Low, copper.Low)},
	}
}

// Mixture is two metals, of which the first has a share by mass.
type Mixture struct {
	First, Second string
	Share         float64
}

package melt

// firstYear is the first year of yearly.
const firstYear = 1960

// yearly is what a troy ounce of silver cost on average in a year, in tenths of a US dollar, as published. Source: World
// Bank, Commodity Markets ("Pink Sheet"), annual prices, edition of 3 March 2026; CC BY 4.0. The price is London's for silver
// of 99.9 percent, before July 1976 that of a refiner in the United States, and for 1960 and 1961 of unrefined silver.
var yearly = [...]Price{
	9, 9, 11, 13, 13, 13, 13, 15, 21, 18, // 1960
	18, 15, 17, 26, 47, 44, 44, 46, 54, 111, // 1970
	208, 105, 79, 114, 81, 61, 54, 70, 65, 55, // 1980
	48, 41, 39, 43, 53, 52, 52, 49, 56, 52, // 1990
	50, 44, 46, 49, 67, 73, 116, 134, 150, 146, // 2000
	202, 352, 311, 238, 191, 157, 171, 171, 157, 162, // 2010
	205, 252, 218, 234, 283, 398, // 2020
}

// YearSource is who is to be named wherever a YearPrice is shown.
const YearSource = `World Bank, Commodity Markets ("Pink Sheet"), annual average, CC BY 4.0`

// YearPrice is what a troy ounce of silver cost on average in a year, in US dollars of that year, rounded to a tenth as
// published; false for years that are not in the table. YearSource is to be named beside it.
func YearPrice(year int) (Price, bool) {
	if year < firstYear || year-firstYear >= len(yearly) {
		return 0, false
	}
	return yearly[year-firstYear] * (PriceUnit / 10), true
}

package picture

import "spareounce/bot/tongue"

// phrase is a text of ours with {named} places in it, in English; see package tongue.
type phrase = tongue.Phrase

// What a set card says, drawn and in its alternative text.
const (
	cardHead      phrase = "Set card, {title}: {summary}."
	cardHeadOf    phrase = "Set card of {owner}, {title}: {summary}."
	isComplete    phrase = "Complete."
	nothingCounts phrase = "Nothing counts on this checklist."
	asOf          phrase = "as of {day}"
	asOfSaid      phrase = "As of {day}."
	complete      phrase = "complete"
	saidMissing   phrase = "Missing: {list}."
	saidWanted    phrase = "Missing and wanted: {list}."
	saidSpare     phrase = "Had with spares: {list}."
	saidHad       phrase = "Had: {list}."
	fromTo        phrase = "{first} to {last}"
	listAndMore   phrase = "{list} and {n} more"
	filledBy      phrase = "filled by {piece}"
	beyondCard    phrase = "and {n} more: {had} had, {missing} missing"
	spareBadge    phrase = "×{n} spare"
	key           phrase = "key"
	semiKey       phrase = "semi-key"
)

// The legend of a set card: each stands beside its mark and has room for about twenty letters.
const (
	legendHad     phrase = "had"
	legendSpare   phrase = "had, some to spare"
	legendMissing phrase = "missing"
	legendWanted  phrase = "missing, wanted"
	keyPiece      phrase = "key piece"
	semiKeyPiece  phrase = "semi-key piece"
)

// What the chart of a price says, drawn and in its alternative text.
const (
	lastPrice      phrase = "last price, {day}"
	lastPriceStale phrase = "last price, {day}: not today's"
	unchangedSince phrase = "unchanged since {day}"
	lowerSince     phrase = "{percent} % lower since {day}"
	higherSince    phrase = "{percent} % higher since {day}"
	highest        phrase = "highest {price}"
	lowest         phrase = "lowest {price}"
	pricesFrom     phrase = "Prices from {sources}."
	dashed         phrase = "Dashed: no price is known in between."
	monthOfYear    phrase = "{month} {year}"
	noPrices       phrase = "{title}: no prices."
	chartHead      phrase = "Chart: {title} in {unit} from {from} to {to}."
	firstOn        phrase = "First {price} on {day}."
	lowestHighest  phrase = "Lowest {low} on {lowday}, highest {high} on {highday}."
	lastOn         phrase = "Last {price} on {day}: {change}."
	lastOnStale    phrase = "Last {price} on {day}, which is not today's price: {change}."
	priceCount     phrase = "{n} prices."
	oneGap         phrase = "For one stretch no price is known."
	manyGaps       phrase = "For {n} stretches no price is known."
	fromSources    phrase = "From {sources}."
)

// What a hunt list says, drawn, printed and in its alternative text.
const (
	huntList       phrase = "Hunt list"
	huntHead       phrase = "Hunt list, {lines}"
	huntHeadOf     phrase = "Hunt list of {owner}, {lines}"
	huntEmpty      phrase = "Hunt list. {nothing}"
	huntEmptyOf    phrase = "Hunt list of {owner}. {nothing}"
	huntTitleOf    phrase = "Hunt list: {owner}, {day}"
	nothingLacked  phrase = "Nothing is lacking."
	upTo           phrase = "{piece} up to {amount}"
	andMore        phrase = "And {n} more."
	moreToPrint    phrase = "and {n} more on the page to print"
	wantedSoon     phrase = "soon"
	oneOther       phrase = "1 other wants it"
	manyOthers     phrase = "{n} others want it"
	meltOf         phrase = "melt {amount}"
	yourLimit      phrase = "your limit"
	mostToPay      phrase = "most to pay"
	columnOfMelt   phrase = "melt"
	columnOfOthers phrase = "others"
	othersMean     phrase = "others: members who want it too. {caution}"
	continued      phrase = "{series}, continued"
	pageOf         phrase = "{n} of {pages}"
)

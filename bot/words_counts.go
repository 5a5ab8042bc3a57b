package bot

// How names stand in a row.
const (
	lastOr  phrase = "{list} or {last}"
	lastAnd phrase = "{list} and {last}"
)

// Lengths of time and counts of things.
const (
	aMinute        phrase = "1 minute"
	minutesLong    phrase = "{n} minutes"
	anHour         phrase = "1 hour"
	hoursLong      phrase = "{n} hours"
	aDay           phrase = "1 day"
	daysLong       phrase = "{n} days"
	everyMinute    phrase = "every minute"
	everyMinutes   phrase = "every {n} minutes"
	everyHour      phrase = "every hour"
	everyHours     phrase = "every {n} hours"
	everyDay       phrase = "every day"
	everyDays      phrase = "every {n} days"
	onePiece       phrase = "1 piece"
	manyPieces     phrase = "{n} pieces"
	oneSet         phrase = "1 set"
	manySets       phrase = "{n} sets"
	oneSwap        phrase = "1 swap"
	manySwaps      phrase = "{n} swaps"
	oneRing        phrase = "1 ring"
	manyRings      phrase = "{n} rings"
	oneGiftChain   phrase = "1 gift chain"
	manyGiftChains phrase = "{n} gift chains"
	fineGrams      phrase = "{n} g fine"
	countOf        phrase = "{n} of {of}"
	linesMore      phrase = "… {n} more."
	givesTo        phrase = "{list} to {name}"
	getsFrom       phrase = "{list} from {name}"
)

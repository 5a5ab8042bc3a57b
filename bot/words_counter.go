package bot

// What we say at the counter: what to buy, what was bought, what it is made of.
const (
	// Prices.
	priceElsewhere phrase = "a price goes with bin, bought, spare or double."
	priceTooHigh   phrase = "that is more than any piece costs."
	meltUnknown    phrase = "melt unknown"
	aboveMelt      phrase = "{percent}% over melt"
	underMelt      phrase = "{percent}% under melt"
	atMelt         phrase = "just at melt"
	boughtAt       phrase = "Noted: {piece} at {price}"
	boughtBefore   phrase = "Noted before, and not again: {list}."
	priceOfNobody  phrase = "Nobody has set a silver price here, so I can tell what fills a gap but not what it is worth. A keeper can: spot 31.20"

	// The bin.
	binLine        phrase = "{verdict}: {piece} at {price}{why}. {worth}"
	binUnpriced    phrase = "{piece}: {verdict}. {worth}"
	binTake        phrase = "Buy"
	binTakeSome    phrase = "Buy {n} of {of}"
	binLeave       phrase = "Leave"
	binFillsMine   phrase = "fills yours"
	binFillsMines  phrase = "{n} for your gaps"
	binFillsTheirs phrase = "fills another member's"
	binFillsMany   phrase = "{n} for other members"
	binForMetal    phrase = "at or under melt"
	binSomeMetal   phrase = "{n} at or under melt"
	binWouldFill   phrase = "would fill yours"
	binWouldTheirs phrase = "would fill another member's"
	binNobodys     phrase = "fills no gap here"
	binAbove       phrase = ", fills yours but costs more than you would pay"
	binAboveTheirs phrase = ", fills another member's but costs more than is usual"
	binInstead     phrase = ", another here fills that gap"
	binWorth       phrase = "{over} ({melt}); most to pay {most}."
	binWorthAlone  phrase = "Melt {melt}; most to pay {most}."
	binMostAlone   phrase = "Most to pay {most}."
	binAll         phrase = "All of that: {list} for {cost}; {gain}."
	binBudget      phrase = "Best under {budget}: {list} for {cost}; {gain}."
	binNoPrices    phrase = "Put what one costs after each, like @62, and I weigh them up."
	binNothing     phrase = "Nothing here to buy."
	binNoneUnder   phrase = "Nothing here to buy under {budget}."
	gainMine       phrase = "{n} of your gaps"
	gainTheirs     phrase = "{n} of the others'"
	gainFills      phrase = "fills {list}"
	gainAnd        phrase = " and "
	gainNone       phrase = "for the metal"
	binHow         phrase = "Say what lies there and what one costs. Try: {example}"
	binTooMuch     phrase = "That is too much to weigh up at once. Please send fewer lines, or fewer of each."
	budgetTwice    phrase = "say the budget once."

	// The hunt list.
	huntHead    phrase = "{n} to look for, as a picture and as a page to print. {price}"
	huntPage    phrase = "Hunt list to print"
	huntNothing phrase = "You lack nothing of what you collect here."
	huntLeast   phrase = "at least {condition}"
	huntCaution phrase = "A list proves no piece: check what you are shown. Tax on what you buy is local."

	// The purchase that helps most.
	usefulHead    phrase = "One more of these to spare here would open trades that can't be made without it, the most helpful first:"
	usefulLine    phrase = "{piece}: wanted by {n}.{worth}"
	usefulWorth   phrase = " Melt {melt}, usually {usual}."
	usefulNothing phrase = "No single piece would open a trade here just now: what is wanted can't be swapped for, or is on offer already."
	usefulSure    phrase = "Worked out from what members want and can spare now; whoever buys decides for themselves."

	// Luck.
	luckNeeds    phrase = "Luck needs a series with a set. Try: luck harbour"
	luckDone     phrase = "{series}: your set is complete; no luck needed."
	luckAlone    phrase = "{series}: you lack {lacking} of {kinds}. Pulled at random, it takes {mean} more pieces on average to finish, and half of all collectors are done by {median}."
	luckSwaps    phrase = "With swaps: others here can spare {n} of what you lack. If every other piece you pull can be swapped for one of those, it takes {mean} on average."
	luckNoSwaps  phrase = "Nobody here can spare any of what you lack just now, so swaps would not shorten it."
	luckAssuming phrase = "That takes every piece to be equally common. Keys are not, so expect more."

	// Numbers.
	numbersHow  phrase = "Say how you read numbers as a language tag, for example \"numbers de-CH\" or \"numbers en-US\", or \"numbers plain\". Nothing was changed."
	numbersNow  phrase = "Amounts at the counter are written like {sample}."
	helpHunt    phrase = "What you lack as a list to take along: a picture for the phone and a page to print, with the most to pay for each. Only you see it."
	helpBin     phrase = "What lies in a dealer's bin, with the price of one after @: what to buy and what to leave, and the best under a budget."
	helpUseful  phrase = "The pieces that would open the most trades here if any member bought one."
	helpLuck    phrase = "How many more random pieces it takes to finish a set, alone and with swaps."
	helpCheck   phrase = "What a piece's weight and size, or its weight dry and in water, say of its metal, and what they can't. A piece's name before them says what it should be."
	helpScale   phrase = "Holds your scale against 20 to 50 equal coins, and says the smallest piece it can judge."
	helpNumbers phrase = "How you read numbers at the counter, as a language tag."
)

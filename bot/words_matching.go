package bot

// What we say about why a trade is good, why a want has none, and rounds.
const (
	// What speaks for a proposal.
	postageIs       phrase = "Posting your parcel costs about {amount} by this group's table."
	withoutKeeps    phrase = "without {piece} it keeps {percent} % of its worth"
	withoutNothing  phrase = "without {piece} there is no such trade"
	withoutAll      phrase = "What a piece counts for: {list}."
	directUnwanted  phrase = "It takes a ring: {name} wants nothing you can spare."
	directLacks     phrase = "It takes a ring: in a swap with {name} alone, {lacks}."
	survives        phrase = "Should the ring break, a swap with {name} is left: you give {give}, you get {get}."
	comesOff        phrase = "Members here say yes {percent} % of the time, so a ring of {n} comes off about {times} times in 100."
	comesOffUnknown phrase = "With few answers here so far, members are taken to say yes {percent} % of the time: a ring of {n} then comes off about {times} times in 100."
	youAboveLimit   phrase = "you would pay {amount} more than your limit"
	theyAboveLimit  phrase = "it would take one more piece from {name} to be even"
	postageEats     phrase = "its postage would eat what it is worth to you"
	postageEatsThem phrase = "its postage would eat what it is worth to {name}"
)

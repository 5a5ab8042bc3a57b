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
	comesOff        phrase = "Members here say yes {percent} % of the time, so {shape} comes off about {times} times in 100."
	comesOffUnknown phrase = "With few answers here so far, members are taken to say yes {percent} % of the time: {shape} then comes off about {times} times in 100."
	youAboveLimit   phrase = "you would pay {amount} more than your limit"
	theyAboveLimit  phrase = "it would take one more piece from {name} to be even"
	postageEats     phrase = "its postage would eat what it is worth to you"
	postageEatsThem phrase = "its postage would eat what it is worth to {name}"

	// Why a want has no trade.
	whyNotWanted    phrase = "{piece}: you have not said that you want it."
	whyPromised     phrase = "{piece}: agreed trade {n} brings it."
	whyAsked        phrase = "{piece}: trade {n} would bring it and waits for answers."
	whyResting      phrase = "{piece}: the trade there is was turned down or not answered in time; it may be proposed again from {until} on."
	whyBusy         phrase = "{piece}: there is a trade, but somebody in it has other proposals to answer first."
	whySoon         phrase = "{piece}: there is a trade, and I am proposing it."
	whyNobody       phrase = "{piece}: nobody here says that they can spare one. You will hear as soon as somebody does."
	whyCondition    phrase = "{piece}: {who} can spare one, in lesser condition than you ask for. \"want\" with another condition changes that."
	whyTooDear      phrase = "{piece}: {who} can spare one, worth more than the most you would give. \"want\" with another \"up to\" changes that."
	whyUnwanted     phrase = "{piece}: {who} can spare one, and wants nothing you can spare. {first} looks for {wants}."
	whyWantsNothing phrase = "{piece}: {who} can spare one, and wants nothing you can spare."
	whyNear         phrase = "{piece}: {who} can spare one, but in a swap with {first} {lacks}."
)

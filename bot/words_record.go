package bot

// What we say about the past of trades, and to keepers about those that are stuck.
const (
	historyHead    phrase = "Trade {n}, what happened:"
	historyLine    phrase = "{at} {name}: {what}"
	historyTerms   phrase = "{at} {name}: {what}; version {version}: {terms}"
	historyClock   phrase = "the clock"
	historyGives   phrase = "{list} from {from}"
	historyPays    phrase = "{amount} from {from}"
	historyMatcher phrase = "proposed it"
	historyBot     phrase = "I"

	noProblems    phrase = "No trade here has an open problem."
	problemsHead  phrase = "Open problems, without addresses or tracking:"
	problemLine   phrase = "Trade {n} ({names}), proposed {age} ago:"
	problemOwn    phrase = "You have a part in this one: another keeper judges it."
	leftGroup     phrase = "{name} has left the group."
	breakDone     phrase = "Trade {n} is ended. Everyone in it is told, with the record of who did what."
	orderNow      phrase = "Who sends first: {rule}. Trades proposed from now on follow it."
	orderTogether phrase = "all at once"
	orderNewer    phrase = "the newest member in a trade, and the others when that has been accepted"
	orderMiddle   phrase = "all send to {name}, who sends everything on; when {name} is a party, all send at once"
	orderHow      phrase = "Say \"order together\", \"order newer first\", or \"order middle\" and the name of a member all trust. Nothing was changed."

	standingIs    phrase = "{name}: {n} trades completed, here since {since}. Parcels sent before the first reminder: {ontime} of {sent}."
	standingOne   phrase = "{name}: 1 trade completed, here since {since}. Parcels sent before the first reminder: {ontime} of {sent}."
	standingNone  phrase = "{name}: no trade completed yet, here since {since}. That says nothing for or against."
	standingRange phrase = "So few say little: the true share is likely between {low} and {high} in a hundred (Wilson's interval at 95%)."
	standingRules phrase = "How it is counted: a trade counts when every piece was accepted and all money came; a parcel is on time when \"sent\" is said within {days} days, before a reminder. Nothing else counts, and nobody rates anybody."

	ledgerEmpty     phrase = "Nothing came to you or went from you by trade in {year}."
	ledgerHead      phrase = "Your trades in {year}, for your eyes alone:"
	ledgerLine      phrase = "{at}, trade {n}: {piece} {way} {other}, agreed at {value}{melt}."
	ledgerMoney     phrase = "{at}, trade {n}: {amount} {way} {other}."
	ledgerMelt      phrase = ", melt that day {melt} (silver {price}, said by {source} on {spot})"
	ledgerNoMelt    phrase = ", no silver price known that day"
	ledgerCame      phrase = "came from"
	ledgerWent      phrase = "went to"
	ledgerPaid      phrase = "paid to"
	ledgerGot       phrase = "got from"
	ledgerSum       phrase = "Pieces in all: {came} came, {went} went.{sums}"
	ledgerSums      phrase = " In {currency}: came at {in}, went at {out}, melt on the day {meltin} and {meltout}; paid {paid}, got {got}."
	ledgerCaution   phrase = "Barter may be taxable where you live, at fair value on the day; I give no tax advice. Ask a licensed adviser, and keep this file."
	ledgerAsFile    phrase = "The whole of {year} is in the file."
	ledgerFileAbout phrase = "your trades in {year}"
	ledgerFileHead  phrase = "date,trade,way,series,piece,condition,value,currency,melt that day,melt currency,silver per troy ounce,silver priced at,silver price from,with"
	ledgerHow       phrase = "\"{word}\" is no year. Try: {example}"
	ledgerMore      phrase = "… and {n} more lines: \"ledger {year} file\" has them all."

	helpOffer     phrase = "A trade of your own making: your spares for another member's, with money from one of you if need be, or a gift \"for nothing\"."
	helpCounter   phrase = "The same two members, other pieces or other money. The other is asked again, and what was offered before is kept in the history."
	helpChecked   phrase = "What you got has been checked, and you accept it: it is yours, and your lists move. It also settles a problem."
	helpProblem   phrase = "Something is wrong with what you were to get: not arrived, not as described, or wrong piece. The sender and the keepers are told."
	helpPaid      phrase = "You have paid what you owe in a trade; with a name, what you owe that member."
	helpMoney     phrase = "The money you are owed in a trade has come; with a name, that member's."
	helpPassedOn  phrase = "Who stands in the middle of a trade has sent everything on."
	helpHistory   phrase = "What happened to a trade, and how its terms changed."
	helpUpgrade   phrase = "A better example of a piece you have. The old one becomes spare only when the new one has come."
	helpLedger    phrase = "What came to you and went from you by trade in a year, with its value on the day; \"ledger 2026 file\" as a file."
	helpStanding  phrase = "How many trades a member completed, and how many parcels they sent on time. No stars, and how it is counted is said."
	helpProblems  phrase = "The agreed trades that are stuck, for keepers: who waits for whom, without addresses."
	helpBreak     phrase = "Ends an agreed trade that can't be saved. A keeper who has a part in it can't."
	helpOrder     phrase = "Who sends first: together, newer first, or middle and a trusted member's name."
	helpSentTrack phrase = "What you give in an agreed trade is on its way; carrier and number after \"by\" are shown to who gets it, until the trade is over."
)

// What became of a trade, one deed each, as its history tells it after who did it.
const (
	didOffer                  phrase = "offered it"
	didPropose                phrase = "proposed it"
	didAccept                 phrase = "said yes"
	didTakeBack               phrase = "took the yes back"
	didLeaveOut               phrase = "left a piece out"
	didCounter                phrase = "made a counter-offer"
	didDecline                phrase = "declined"
	didLapse                  phrase = "the time to answer ran out"
	didOvertake               phrase = "a piece of it went elsewhere"
	didWithdraw               phrase = "took something back or left"
	didShip                   phrase = "sent it"
	didPassOn                 phrase = "sent everything on"
	didArrive                 phrase = "said that it arrived"
	didObjectedNotArrived     phrase = "said that it has not arrived"
	didObjectedNotAsDescribed phrase = "said that it is not as described"
	didObjectedWrongPiece     phrase = "said that it is the wrong piece"
	didReceive                phrase = "accepted it"
	didPay                    phrase = "said that it is paid"
	didGetPaid                phrase = "said that the money came"
	didBreak                  phrase = "ended it as a keeper"
	didDue                    phrase = "began to count time"
	didTimedSendDue           phrase = "reminded who is to send"
	didTimedArrivalDue        phrase = "asked whether it arrived"
	didTimedCheckDue          phrase = "reminded who is to check"
	didTimedPassOnDue         phrase = "reminded the middle"
	didTimedProblemDue        phrase = "asked after the problem"
	didTimedPayDue            phrase = "reminded who is to pay"
	didTimedMoneyDue          phrase = "asked whether the money came"
	didTimedKeeperNeeded      phrase = "told the keepers"
	didTimedCountedDone       phrase = "counted what had arrived as accepted"
	didTimedClosedNow         phrase = "counted the last piece as accepted"
	didTimedEndedNow          phrase = "ended it, unfinished"
)

// deedWords are what has been done to a trade, by the name of the event.
var deedWords = map[string]phrase{
	"Offer":                    didOffer,
	"Propose":                  didPropose,
	"Accept":                   didAccept,
	"TakeBack":                 didTakeBack,
	"LeaveOut":                 didLeaveOut,
	"Counter":                  didCounter,
	"Decline":                  didDecline,
	"Lapse":                    didLapse,
	"Overtake":                 didOvertake,
	"Withdraw":                 didWithdraw,
	"Ship":                     didShip,
	"PassOn":                   didPassOn,
	"Arrive":                   didArrive,
	"Object: not arrived":      didObjectedNotArrived,
	"Object: not as described": didObjectedNotAsDescribed,
	"Object: wrong piece":      didObjectedWrongPiece,
	"Receive":                  didReceive,
	"Pay":                      didPay,
	"GetPaid":                  didGetPaid,
	"Break":                    didBreak,
	"Due":                      didDue,
	"Due: send due":            didTimedSendDue,
	"Due: arrival due":         didTimedArrivalDue,
	"Due: check due":           didTimedCheckDue,
	"Due: pass on due":         didTimedPassOnDue,
	"Due: problem due":         didTimedProblemDue,
	"Due: pay due":             didTimedPayDue,
	"Due: money due":           didTimedMoneyDue,
	"Due: keeper needed":       didTimedKeeperNeeded,
	"Due: counted done":        didTimedCountedDone,
	"Due: closed now":          didTimedClosedNow,
	"Due: ended now":           didTimedEndedNow,
}

package trade

// A round may find trades that are good only together: who gives in one gets in another. Its trades then wait for each
// other. Whoever keeps them makes Conclude of all of them when each has every yes, and CallOff of the others when one ends.

// Waits reports whether all have said yes, and the trade waits for the others of its round.
func (t Trade) Waits() bool { return t.State == Proposed && t.Together && t.allSaidYes() }

func (e Conclude) apply(t Trade) (Trade, []Notice, error) {
	if !t.Waits() {
		return refuse(NotOpen, "")
	}
	return t.agree("", e.At)
}

func (e CallOff) apply(t Trade) (Trade, []Notice, error) {
	if t.State != Proposed || !t.Together {
		return refuse(NotOpen, "")
	}
	return t.end(CalledOff, "")
}

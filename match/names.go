package match

// Member is who trades: an identity, nothing more. Names and chat accounts are not known here, so they cannot leak from
// here.
type Member string

// Piece is what changes hands: a series' code and a piece's code with a slash between, "harbour/84".
type Piece string

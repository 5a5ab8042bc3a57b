package bot

import "context"

// Heard is one thing a member typed or pressed. Pressing a button is typing the line it carries, so there is one way
// in.
type Heard struct {
	Group   string // the chat's own id of the group
	From    Speaker
	Text    string
	Private bool // said to us alone
}

// Speaker is who we hear: an account of the chat, and the name it goes by there.
type Speaker struct {
	Account string // the chat's own id of the member
	Name    string
	Keeper  bool // the chat lets this member run the group
	// Language is what the member's chat is set to, an IETF language tag, or "" when the chat does not say.
	Language string
}

// Reply is what we say. The zero Reply is silence: members talk among themselves too.
type Reply struct {
	Text     string
	Private  bool // for the speaker's eyes alone
	Buttons  []Button
	Pictures []Picture
	Files    []File
	// Key, unless it is empty, names what is said where saying it twice would be wrong, as with the weekly post: a chat
	// that has said a reply with this key there already says nothing, and reports no error. At most 25 bytes.
	Key string
	// About, unless it is empty, is the line that shows what this is about as it stands now, "trade 12". A chat may keep one
	// message for it, and change that message when it has changed.
	About string
}

// Button is a short label and the line that pressing it says. It needs no memory of ours, so it works after a restart,
// and a late press is refused by the same rules as late typing.
type Button struct {
	Label string
	Says  string
}

// Picture is a PNG with the words that stand for it.
type Picture struct {
	Name string // a file name, "harbour.png"
	PNG  []byte
	Alt  string
}

// File is something to save or print.
type File struct {
	Name  string // "hunt-harbour.pdf"
	Type  string // media type, "application/pdf"
	Bytes []byte
	About string // what is in it, in a few words: what a link to it says
}

// Empty reports whether there is nothing to say.
func (r Reply) Empty() bool { return r.Text == "" && len(r.Pictures) == 0 && len(r.Files) == 0 }

// Chat is where members hear us. The local room is one, a chat service another, a transcript under test the third.
// Both methods may be called at any time from any goroutine. After an error we try again, under the same key.
type Chat interface {
	// Tell speaks to one member alone.
	Tell(ctx context.Context, group, account string, r Reply) error
	// Post speaks to the whole group.
	Post(ctx context.Context, group string, r Reply) error
}

package bot

// What we say to the parties of a trade together, and to keepers about the place for that.
const (
	shareName    phrase = "Trade {n}"
	shareHow     phrase = "This thread is for the parties of trade {n}. Who may manage threads in this server can read it, so exchange addresses in your own private messages, never here. I keep this message up to date; a button speaks for whoever presses it."
	shareOver    phrase = "Nothing more comes here, so this thread is closed."
	shareLacks   phrase = "Agreed trades should get a private thread, but in {channel} I lack: {list}. A keeper of the server can allow it in the channel's settings, under Permissions. Until then I reach each party as before."
	shareNowhere phrase = "Agreed trades should get a private thread, but no channel is chosen for it. \"begin\" has a menu for that. Until then I reach each party as before."
	shareFull    phrase = "Trade {n} should get a private thread, but this server has as many open ones as it may. Archive some that are done with; I try again when a trade moves, and reach each party as before until then."
)

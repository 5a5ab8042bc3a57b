package bot

// What we say about the chat itself: how members are reached, first steps in a group, and what a chat says of its own
// buttons, files and permissions. A chat takes the exported ones through Words.
const (
	tradeShort   phrase = "{n}: you give {give}, you get {get}"
	reachMessage phrase = "I will write to you in a private message when something matches or a trade moves. \"reach visit\" stops that."
	reachThread  phrase = "I will write to you in a private thread of this group when something matches or a trade moves, where the group allows threads. \"reach visit\" stops that."
	reachVisit   phrase = "I will not write to you unasked. What comes up waits for the next time you say something to me."
	reachHow     phrase = "Say how I may reach you: \"reach message\", \"reach thread\" or \"reach visit\". Nothing was changed."
	helpReach    phrase = "How I may reach you unasked: by private message, in a private thread, or not until your next visit."
	helpBegin    phrase = "First steps for a keeper: what is set for this group, what is missing, and how to set it."
	helpForget   phrase = "Deletes what you told me and how you are called here."

	beginHead     phrase = "This group so far:"
	beginZone     phrase = "Clock: {zone}, now {now}. Change it: zone Europe/Lisbon"
	beginLanguage phrase = "Language of posts: {language}. Change it: language group es"
	beginCurrency phrase = "Money: {currency}. Change it: currency EUR"
	beginSpot     phrase = "Silver: {spot}"
	beginSeries   phrase = "Series: {list}."
	beginNoSeries phrase = "Series: none yet. Add one: import, with a series file."
	beginThen     phrase = "Then tell members to say: have, spare, want and gaps. \"help\" shows them how."

	takeNothing  phrase = "Nothing in that text is a piece of a series collected here, so there is nothing to take over."
	takeRead     phrase = "I read this: {list}."
	takeUnread   phrase = "I could not read: {words}. Those lines are left out."
	takeAsk      phrase = "Nothing is stored yet. What is it?"
	fillsForYou  phrase = "{name} can spare {list}, which you lack."
	fillsNothing phrase = "{name} can spare nothing that you lack."

	forgetSure    phrase = "This deletes what you have, spare and want, your settings and your name here, for good. Open proposals end."
	forgetPending phrase = "You stand in an agreed trade. Finish it first, or ask a keeper to end it; nothing was deleted."
	somebodyGone  phrase = "somebody who left"
	forgotten     phrase = "Deleted. Closed trades of others keep that somebody took part, without your name."

	ChatStale       phrase = "That button was made by an earlier version or has been changed, so it does nothing. Say the line itself, or \"help\"."
	ChatNotYours    phrase = "That button is for {name}. You can say it yourself: {line}"
	ChatOld         phrase = "That button is too old: what it would say is no longer kept. Say the line itself, or \"trades\" to see where your trades stand."
	ChatWhichGroup  phrase = "You are in several groups with me. Which one is this for?"
	ChatNoGroup     phrase = "I know you from no group yet. Say something to me in a server that has me, then I can answer you here."
	ChatNotInGroup  phrase = "You are no longer in that group, so I can't answer for it here."
	ChatUninvited   phrase = "This server has not invited me, so I keep no group here. Who manages the server can invite me."
	ChatKeptFor     phrase = "While you were away:"
	ChatSaidToAll   phrase = "Said to the group, below."
	ChatBroken      phrase = "Something broke on our side, and nothing more was done. Please try again in a moment."
	ChatTooLarge    phrase = "Too large for this chat, so left out: {list}."
	ChatMore        phrase = "The rest is in the file."
	ChatFileKind    phrase = "\"{name}\" is not a text or CSV file, so it was not read. Nothing was changed."
	ChatFileSize    phrase = "\"{name}\" has {size} kB, and {most} kB can be read at once. Nothing was changed."
	ChatFilePlace   phrase = "\"{name}\" does not come from where the chat keeps its files, so it was not fetched. Nothing was changed."
	ChatFileLost    phrase = "\"{name}\" could not be fetched. Please attach it again. Nothing was changed."
	ChatFileEncoded phrase = "\"{name}\" is not text in UTF-8. Please save it as UTF-8 and attach it again. Nothing was changed."
	ChatLacks       phrase = "In {channel} I lack: {list}. A keeper of the server can allow it in the channel's settings, under Permissions."
	ChatLacksServer phrase = "In this server I lack: {list}. A keeper of the server can allow it in the server's settings, under Roles."
	ChatChannelSet  phrase = "Posts to the whole group go to {channel}. Everything I need there is allowed."
	ChatChannelBad  phrase = "Posts to the whole group would go to {channel}, but I can't speak there yet."
	ChatRoleSet     phrase = "Who has the role {role} keeps this group too."
	ChatRoleNone    phrase = "Only who may manage the server keeps this group."
	ChatThreadsOn   phrase = "I may open private threads in that channel: one for the parties of each agreed trade, and one for each member who says \"reach thread\". Who may manage threads in this server can read them."
	ChatThreadsOff  phrase = "I open no threads."
	ChatKeeperOnly  phrase = "Only a keeper of this group can set that."
	ChatPostsHere   phrase = "Posts to the whole group: {channel}."
	ChatPostsNone   phrase = "Posts to the whole group: no channel chosen yet."
	ChatKeeperRole  phrase = "Keepers: who may manage the server, and the role {role}."
	ChatKeeperNone  phrase = "Keepers: who may manage the server."
	ChatPickChannel phrase = "Where posts to the whole group go"
	ChatPickRole    phrase = "Which role keeps the group too"
	ChatPickGroup   phrase = "Which group"
	ChatPickAnswer  phrase = "Choose one"
	ChatPickMore    phrase = "Choose one of the others"
	ChatThreadsYes  phrase = "Allow private threads"
	ChatThreadsNo   phrase = "No private threads"
	ChatThreadName  phrase = "Spareounce for {name}"
	ChatModalTitle  phrase = "{verb}: a long list"
	ChatModalLabel  phrase = "Pieces, as you would write them down"
	ChatModalHint   phrase = "harbour 82-84, 85 x2\nlantern ND bright ask 38"
	ChatModalImport phrase = "A series file"
	ChatClosedNow   phrase = "I could not write to you privately: your messages are closed to me. Until you say \"reach message\" again, what comes up waits for your visits."
)

// What a chat's settings call what they allow, as its own pages have it in each language, so that a keeper finds it.
const (
	ChatMayView        phrase = "View Channel"
	ChatMaySend        phrase = "Send Messages"
	ChatMayEmbed       phrase = "Embed Links"
	ChatMayAttach      phrase = "Attach Files"
	ChatMayReadHistory phrase = "Read Message History"
	ChatMayMakeThreads phrase = "Create Private Threads"
	ChatMaySendThreads phrase = "Send Messages in Threads"
)

// Words is a phrase in a language, named by its IETF tag, with its places filled, given as name and value in turn.
func Words(language string, p phrase, pairs ...any) string {
	return voiceFor(language).Say(p, pairs...)
}

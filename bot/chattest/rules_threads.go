package chattest

import (
	"slices"
	"unicode/utf8"
)

// threadRules hold for new threads.
func threadRules(c *call, v *verdict) {
	b := c.body()
	v.keys("", b, []string{"name", "auto_archive_duration", "type", "invitable", "rate_limit_per_user", "message", "applied_tags"})
	if text(b["name"]) == "" {
		v.wrong = append(v.wrong, required("name"))
	}
	v.thread(b)
	if b["invitable"] != nil && (c.part("message") != "" || number(b["type"]) == int(PublicThread)) {
		v.remark("invitable counts only for private threads")
	}
}

// channelRules hold for changes of threads. Of other channels the stand-in knows the name only.
func channelRules(c *call, v *verdict) {
	c.s.mu.Lock()
	ch := c.s.channels[c.part("channel")]
	thread := ch != nil && ch.parent != nil
	c.s.mu.Unlock()
	if !thread {
		return
	}
	v.keys("", c.body(), []string{
		"name", "archived", "auto_archive_duration", "locked", "invitable", "rate_limit_per_user", "flags", "applied_tags",
	})
	v.thread(c.body())
}

// thread checks what a new thread and a change of one have in common (Discord, Resources, Channel).
func (v *verdict) thread(b object) {
	if n := utf8.RuneCountInString(text(b["name"])); n > 100 {
		v.wrong = append(v.wrong, badLength("name", 1, 100))
	}
	if d := b["auto_archive_duration"]; d != nil && !slices.Contains([]int{60, 1440, 4320, 10080}, number(d)) {
		v.add("auto_archive_duration", "BASE_TYPE_CHOICES", "Value must be one of {60, 1440, 4320, 10080}.")
	}
}

package chattest_test

import (
	"slices"
	"testing"

	"spareounce/bot/chattest"
)

// Threads: private ones are seen by those who were added, and locked ones take nothing.
func TestThreads(t *testing.T) {
	s := set(t)
	status, th := s.do("POST", "/channels/"+s.ch.ID+"/threads", object{"name": "Trade 41", "type": 12, "invitable": false})
	if status != 201 || th["type"] != 12.0 || th["parent_id"] != s.ch.ID {
		t.Fatalf("%d %v", status, th)
	}
	path := "/channels/" + th["id"].(string)
	if status, body := s.do("PUT", path+"/thread-members/"+s.ann.ID, nil); status != 204 {
		t.Errorf("%d %v", status, body)
	}
	status, body := s.do("PUT", path+"/thread-members/"+s.srv.Member("cy").ID, nil)
	s.refused(status, body, 404, 10007)
	if status, body = s.do("POST", path+"/messages", object{"content": "agreed"}); status != 200 {
		t.Errorf("%d %v", status, body)
	}
	thread := s.ch.Threads()[0]
	if len(s.ann.Screen(thread)) != 1 || len(s.bea.Screen(thread)) != 0 {
		t.Error("a private thread is seen by ann, and not by bea")
	}
	thread.Archive(true)
	status, body = s.do("POST", path+"/messages", object{"content": "late"})
	s.refused(status, body, 400, 50083)
	status, body = s.do("PUT", path+"/thread-members/"+s.bea.ID, nil)
	s.refused(status, body, 400, 50083)
	thread.Archive(false)
	if status, body = s.do("POST", path+"/messages", object{"content": "opens it again"}); status != 200 {
		t.Errorf("%d %v", status, body)
	}
	s.ch.Deny(s.srv.ApplicationID(), chattest.CreatePrivateThreads)
	status, body = s.do("POST", "/channels/"+s.ch.ID+"/threads", object{"name": "Trade 42"})
	s.refused(status, body, 403, 50013)
}

// TestWhoMayChangeAThread holds the stand-in to what the documentation says of editing threads (Topics, Threads, Editing &
// Deleting Threads): who made one may name, archive and open it; locking takes Manage Threads, and so does what is locked.
func TestWhoMayChangeAThread(t *testing.T) {
	s := set(t)
	_, th := s.do("POST", "/channels/"+s.ch.ID+"/threads", object{"name": "Trade 41", "type": 12, "invitable": false, "auto_archive_duration": 10080})
	meta, _ := th["thread_metadata"].(object)
	if meta["invitable"] != false || meta["auto_archive_duration"] != 10080.0 {
		t.Error(th)
	}
	path := "/channels/" + th["id"].(string)
	change := func(form object) (int, object) { return s.do("PATCH", path, form) }
	if status, body := change(object{"name": "Trade 41, over"}); status != 200 || body["name"] != "Trade 41, over" {
		t.Errorf("%d %v", status, body)
	}
	status, body := change(object{"archived": true, "locked": true})
	s.refused(status, body, 403, 50013)
	_, said := s.do("POST", path+"/messages", object{"content": "agreed"})
	message := path + "/messages/" + said["id"].(string)
	if status, body = change(object{"archived": true}); status != 200 {
		t.Errorf("%d %v", status, body)
	}
	if archived, locked := s.ch.Threads()[0].Archived(); !archived || locked {
		t.Error(archived, locked)
	}
	status, body = change(object{"name": "Trade 42"})
	s.refused(status, body, 400, 50083)
	status, body = s.do("PATCH", message, object{"content": "over"})
	s.refused(status, body, 400, 50083)
	if status, body = change(object{"archived": false}); status != 200 {
		t.Errorf("%d %v", status, body)
	}
	s.ch.Threads()[0].Archive(true)
	status, body = change(object{"archived": false})
	s.refused(status, body, 403, 50013)
	s.guild.BotMay(chattest.BotUsual | chattest.ManageThreads)
	if status, body = change(object{"archived": false, "locked": true}); status != 200 {
		t.Errorf("%d %v", status, body)
	}
	s.guild.BotMay(chattest.BotUsual)
	status, body = s.do("PATCH", message, object{"content": "over"})
	s.refused(status, body, 400, 160005)
	status, body = s.do("POST", path+"/messages", object{"content": "over"})
	s.refused(status, body, 400, 160005)
}

// TestWhoIsInAThread adds members, and lists active threads as the bot can.
func TestWhoIsInAThread(t *testing.T) {
	s := set(t, chattest.WithThreads(2))
	open := func(name string) (int, object) {
		return s.do("POST", "/channels/"+s.ch.ID+"/threads", object{"name": name, "type": 12, "invitable": false})
	}
	_, th := open("Trade 41")
	path := "/channels/" + th["id"].(string)
	for range 2 {
		if status, body := s.do("PUT", path+"/thread-members/"+s.ann.ID, nil); status != 204 {
			t.Errorf("%d %v", status, body)
		}
	}
	if in := s.ch.Threads()[0].Members(); len(in) != 2 || !slices.Contains(in, s.ann) {
		t.Error(in)
	}
	if n := len(s.ann.Screen(s.ch.Threads()[0])); n != 0 {
		t.Errorf("somebody wrote %d messages", n)
	}
	if status, body := s.do("GET", path+"/thread-members/"+s.ann.ID, nil); status != 200 || body["user_id"] != s.ann.ID {
		t.Errorf("%d %v", status, body)
	}
	status, body := s.do("GET", path+"/thread-members/"+s.bea.ID, nil)
	s.refused(status, body, 404, 10007)
	status, body = s.do("GET", path+"/thread-members", nil) // takes a privileged intent
	s.refused(status, body, 403, 50001)
	open("Trade 42")
	status, body = open("Trade 43")
	s.refused(status, body, 400, 160006)
	s.ch.Threads()[1].Archive(false)
	status, body = s.do("GET", "/guilds/"+s.guild.ID+"/threads/active", nil)
	threads, _ := body["threads"].([]any)
	if status != 200 || len(threads) != 1 || threads[0].(object)["name"] != "Trade 41" || threads[0].(object)["message_count"] != 1.0 {
		t.Errorf("%d %v", status, body)
	}
	s.ch.Deny(s.srv.ApplicationID(), chattest.SendMessagesInThreads)
	status, body = s.do("PUT", path+"/thread-members/"+s.bea.ID, nil)
	s.refused(status, body, 403, 50013)
}

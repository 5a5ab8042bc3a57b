package room

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"spareounce/bot"
)

// browser is one tab of a real browser, at the size of a small phone.
type browser struct {
	t   *testing.T
	ctx context.Context
}

func browse(t *testing.T) *browser {
	t.Helper()
	var path string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Skip("NO BROWSER IS INSTALLED, SO THE PAGE WAS NOT TRIED: put chromium on the PATH to run this test.")
	}
	within, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	t.Cleanup(cancel)
	run, stop := chromedp.NewExecAllocator(within,
		chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.NoSandbox, chromedp.Headless, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("force-color-profile", "srgb"))
	t.Cleanup(stop)
	tab, shut := chromedp.NewContext(run)
	t.Cleanup(shut)
	b := &browser{t, tab}
	b.size(360, 780)
	return b
}

func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

func (b *browser) size(width, height int64) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(width, height))
}

func (b *browser) open(url string) { b.t.Helper(); b.do(chromedp.Navigate(url)) }

// protocol sends a command of the DevTools protocol that has no helper of its own.
func (b *browser) protocol(method string, params any) {
	b.t.Helper()
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error { return t.Call(ctx, method, params, nil) }))
}

func (b *browser) dark(dark bool) {
	b.t.Helper()
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	b.protocol("Emulation.setEmulatedMedia", map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": scheme}}})
}

// until waits for an expression of the page to become true, over a change of page too.
func (b *browser) until(expression string) {
	b.t.Helper()
	var err error
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		var holds bool
		if holds, err = chromedp.Run(b.ctx, chromedp.Evaluate[bool]("!!("+expression+")")); holds {
			return
		}
	}
	text, _ := chromedp.Run(b.ctx, chromedp.Evaluate[string]("document.body.innerText"))
	b.t.Fatalf("never came true: %s\n%v\n%s", expression, err, text)
}

func (b *browser) says(text string) string {
	return fmt.Sprintf("document.body.textContent.includes(%q)", text)
}

// press presses keys, one after the other, wherever the focus is.
func (b *browser) press(keys ...string) {
	b.t.Helper()
	for _, key := range keys {
		if key != kb.Enter {
			b.do(chromedp.KeyEvent(key))
			continue
		}
		// KeyEvent sends the character by itself, even when the page has prevented the key's default; a keyboard doesn't.
		enter := map[string]any{"type": "keyDown", "key": "Enter", "code": "Enter", "windowsVirtualKeyCode": 13, "text": "\r"}
		b.protocol("Input.dispatchKeyEvent", enter)
		enter["type"] = "keyUp"
		b.protocol("Input.dispatchKeyEvent", enter)
	}
}

// tabTo presses Tab until an expression about the focused element f is true.
func (b *browser) tabTo(expression string) {
	b.t.Helper()
	for range 40 {
		b.press(kb.Tab)
		there, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("((f) => !!("+expression+"))(document.activeElement)"))
		if err != nil {
			b.t.Fatal(err)
		}
		if there {
			return
		}
	}
	b.t.Fatalf("forty presses of Tab lead nowhere near %s", expression)
}

// keep leaves a picture of what the browser shows beside the test's results.
func (b *browser) keep(name string) {
	b.t.Helper()
	b.until("document.getAnimations().length === 0")
	picture, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(filepath.Join(b.t.ArtifactDir(), name+".png"), picture, 0o644)
	}
	if err != nil {
		b.t.Fatal(err)
	}
}

// fits holds the page to what a thumb and an eye need: nothing sideways, targets of 44 px, type of 17 px.
func (b *browser) fits(where string) {
	b.t.Helper()
	const check = `(() => {
		const bad = [];
		if (document.documentElement.scrollWidth > innerWidth) bad.push("the page is " + document.documentElement.scrollWidth + " px wide");
		for (const e of document.querySelectorAll("body *")) {
			const box = e.getBoundingClientRect();
			if (!box.width || e.closest(".unseen, .skip, [type=checkbox]")) continue;
			const name = e.tagName + " " + e.textContent.trim().slice(0, 30);
			if (parseFloat(getComputedStyle(e).fontSize) < 17) bad.push(name + ": small type");
			if (e.matches("a:not(.picture), button, .tick, input:not([type=checkbox]), [role=option]") && (box.height < 44 || box.width < 44)) bad.push(name + ": " + box.width + " by " + box.height);
			if (e.matches("img:not([alt])")) bad.push(name + ": no words for a picture");
		}
		return bad.join("\n");
	})()`
	bad, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](check))
	if err != nil {
		b.t.Fatal(err)
	}
	if bad != "" {
		b.t.Errorf("%s:\n%s", where, bad)
	}
}

// tableTalk answers as a bot might.
func tableTalk(t *testing.T) *scripted {
	card, err := os.ReadFile("../../testdata/picture/half-complete.png")
	if err != nil {
		t.Fatal(err)
	}
	talker := atTable()
	talker.members = append(talker.members, bot.Speaker{Account: "maryam", Name: "مريم"}, bot.Speaker{Account: "fox", Name: "🦊 of the hedgerow"})
	talker.answer = func(h bot.Heard) bot.Reply {
		switch {
		case strings.HasPrefix(h.Text, "gaps"):
			return bot.Reply{Text: "Harbour: you have 4 of 9, missing 84 heron, 86, 87, ND.", Private: true, Pictures: []bot.Picture{{Name: "harbour.png", PNG: card, Alt: "Harbour: 82, 83, 84 gull and 85 of 9 pieces held."}}, Buttons: []bot.Button{{Label: "Want the rest", Says: "want harbour rest"}}}
		case strings.HasPrefix(h.Text, "who"):
			return bot.Reply{Text: "85: Cyd bright ask 38, Bo (wants 2 of yours).", Buttons: []bot.Button{{Label: "I want it", Says: "want harbour 85"}}}
		case strings.HasPrefix(h.Text, "want"):
			return bot.Reply{Text: h.From.Name + " wants harbour 85.", Private: h.Private}
		case h.Text == "accept 12":
			return bot.Reply{Text: "You are in: 2 of 3 have accepted trade 12.", Private: true}
		case h.Text == "help":
			return bot.Reply{Text: "Say what you have, can spare and want.", Private: true, Buttons: []bot.Button{{Label: "Help: want", Says: "help want"}, {Label: "Help: spare", Says: "help spare"}}}
		}
		return bot.Reply{}
	}
	talker.offers = func(typed string) []string {
		var offers []string
		for _, line := range []string{"want harbour ", "want harbour 85", "want harbour rest", "want lantern ", "who harbour 85", "wants Bo"} {
			if strings.HasPrefix(line, typed) {
				offers = append(offers, line)
			}
		}
		return offers
	}
	return talker
}

// proposal is a notice as the bot tells it unasked.
var proposal = bot.Reply{
	Text:    "Trade 12, a ring of three: 1 of 3 have accepted.\nYou give: harbour 83 to Cyd.\nYou get: lantern ND bright from Bo.\nYou pay 2.50 to Cyd to make it even.\nDecide by Thursday 5 March, 12:00.",
	Buttons: []bot.Button{{Label: "Accept", Says: "accept 12"}, {Label: "Decline", Says: "decline 12"}, {Label: "Leave out harbour 83", Says: "leave out 12 harbour 83"}},
}

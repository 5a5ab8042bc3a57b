package room

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"spareounce/bot"
)

// A visit on a phone of 360 by 780 px: sit down, write with completion, hear others, press a button.
func TestVisitOnAPhone(t *testing.T) {
	t.Parallel()
	b := browse(t)
	r, talker := newRoom(t), tableTalk(t)
	v := open(t, r, talker)
	if err := r.Tell(t.Context(), "g", "bo", proposal); err != nil {
		t.Fatal(err)
	}
	b.open(v.url)
	b.until(b.says("Bo (1 new)"))
	b.fits("the door")
	b.keep("door-phone-light")
	b.do(chromedp.Click(chromedp.CSS(`a[href="/as/ann"]`)), chromedp.WaitVisible(chromedp.CSS("#line")))
	b.until(b.says("Write as Ann"))

	b.do(chromedp.SendKeys(chromedp.CSS("#line"), "want h"))
	b.until(`document.querySelectorAll("#offers [role=option]").length === 3`)
	b.fits("the table with offers")
	b.keep("offers-phone-light")
	b.do(chromedp.Click(chromedp.CSS("#offer1")), chromedp.Click(chromedp.CSS("#say button")))
	b.until(b.says("Ann wants harbour 85."))
	b.until(`document.getElementById("line").value === ""`)

	// Bo is somewhere else; what is said there appears here, and the page is not loaded again for it.
	b.do(chromedp.SetAttributeValue(chromedp.CSS("body"), "data-same-page", "yes"))
	v.says("bo", "good morning, all — the 1985 came back with a fingerprint on it")
	b.until(b.says("good morning, all"))
	if err := r.Tell(t.Context(), "g", "ann", proposal); err != nil {
		t.Fatal(err)
	}
	b.until(b.says("Trade 12, a ring of three"))
	b.fits("the table with a slip")
	b.keep("slip-phone-light")
	b.do(chromedp.Click(chromedp.CSS(`.slip button[value="accept 12"]`)))
	b.until(b.says("2 of 3 have accepted"))
	b.until(`document.querySelector('.slip button[value="accept 12"]').matches(".pressed")`)
	if h := talker.lastHeard(t); h.Text != "accept 12" || !h.Private || h.From.Account != "ann" {
		t.Errorf("the press was heard as %+v", h)
	}
	b.do(chromedp.Click(chromedp.CSS(`#quick button[value="gaps"]`)))
	b.until(`document.querySelector(".slip img")?.complete && document.querySelector(".slip img").naturalWidth > 0`)
	b.fits("the table with a picture")
	b.keep("card-phone-light")
	if err := r.Tell(t.Context(), "g", "cyd", bot.Reply{Text: "Ann can spare the 83 you want."}); err != nil {
		t.Fatal(err)
	}
	b.until(`document.querySelector("nav").textContent.includes("Cyd (1 new)")`)
	b.until(`document.body.dataset.samePage === "yes"`)

	b.do(chromedp.Click(chromedp.CSS(`nav a[href="/as/bo"]`)))
	b.until(b.says("Write as Bo"))
	b.until(`!document.querySelector("nav").textContent.includes("Bo (")`)
	b.dark(true)
	b.keep("bo-phone-dark")
}

// Everything can be done with the keyboard alone, and the focus can be seen.
func TestVisitByKeyboard(t *testing.T) {
	t.Parallel()
	b := browse(t)
	r, talker := newRoom(t), tableTalk(t)
	v := open(t, r, talker)
	b.open(v.url)
	b.tabTo(`f.matches("a") && f.textContent.includes("Bo")`)
	b.press(kb.Enter)
	b.until(b.says("Write as Bo"))
	b.tabTo(`f.matches(".skip")`)
	b.press(kb.Enter)
	b.until(`document.activeElement.id === "line" || location.hash === "#line"`)
	b.tabTo(`f.id === "line" || f.textContent === "Say"`)
	b.do(chromedp.Focus(chromedp.CSS("#line")))
	b.press("want h")
	b.until(`document.getElementById("line").getAttribute("aria-expanded") === "true"`)
	b.press(kb.ArrowDown, kb.ArrowDown)
	b.until(`document.getElementById(document.getElementById("line").getAttribute("aria-activedescendant")).textContent === "want harbour 85"`)
	b.keep("keyboard-offer")
	b.press(kb.Enter)
	b.until(`document.getElementById("line").value === "want harbour 85 " && document.getElementById("offers").hidden`)
	b.press(kb.Enter)
	b.until(b.says("Bo wants harbour 85."))
	b.press("wan")
	b.until(`!document.getElementById("offers").hidden`)
	b.press(kb.Escape)
	b.until(`document.getElementById("offers").hidden && document.getElementById("line").value === "wan"`)

	if err := r.Tell(t.Context(), "g", "bo", proposal); err != nil {
		t.Fatal(err)
	}
	b.until(b.says("Trade 12, a ring of three"))
	b.tabTo(`f.matches(".slip button[value='accept 12']")`)
	b.until(`getComputedStyle(document.activeElement).outlineStyle === "solid" && parseFloat(getComputedStyle(document.activeElement).outlineWidth) >= 2`)
	b.until(`(() => { const f = document.activeElement.getBoundingClientRect(); return f.bottom <= document.querySelector("footer").getBoundingClientRect().top && f.top >= document.querySelector("nav").getBoundingClientRect().bottom })()`)
	b.keep("keyboard-press")
	b.press(kb.Enter)
	b.until(b.says("2 of 3 have accepted"))
	b.until(`document.activeElement.value === "accept 12"`) // the focus stays where it was
}

// Without script the same page works by forms and reloading.
func TestVisitWithoutScript(t *testing.T) {
	t.Parallel()
	b := browse(t)
	r, talker := newRoom(t), tableTalk(t)
	v := open(t, r, talker)
	b.protocol("Emulation.setScriptExecutionDisabled", map[string]any{"value": true})
	b.open(v.url)
	b.do(chromedp.SendKeys(chromedp.CSS("#name"), "Dot"), chromedp.Click(chromedp.CSS("main form button")), chromedp.WaitVisible(chromedp.CSS("#line")))
	b.do(chromedp.SendKeys(chromedp.CSS("#line"), "who harbour 85"), chromedp.Click(chromedp.CSS("#say button")), chromedp.WaitVisible(chromedp.CSS(`#book button[value="want harbour 85"]`)))
	b.do(chromedp.Click(chromedp.CSS(`#book button[value="want harbour 85"]`)), chromedp.WaitVisible(chromedp.CSS(".slip")), chromedp.WaitVisible(chromedp.CSS("#book button.pressed")))
	slip, err := chromedp.Run(b.ctx, chromedp.TextContent(chromedp.CSS(".slip")))
	if err != nil {
		t.Fatal(err)
	}
	wantIn(t, "the slip", slip, "For you", "want harbour 85", "Dot wants harbour 85.")
	b.keep("without-script")
}

// Pictures of a busy table for whoever looks at them, and the same demands at every size.
func TestBusyTable(t *testing.T) {
	t.Parallel()
	b := browse(t)
	r, talker := newRoom(t), tableTalk(t)
	v := open(t, r, talker)
	v.says("cyd", "spare harbour 85 bright ask 38; lantern ND x2")
	v.says("maryam", "أريد harbour 87")
	v.says("fox", "who harbour 85")
	v.says("ann", "gaps harbour")
	for _, account := range []string{"ann", "bo"} {
		if err := r.Tell(t.Context(), "g", account, proposal); err != nil {
			t.Fatal(err)
		}
	}
	v.do("POST", "/as/ann/press", map[string][]string{"says": {"accept 12"}, "entry": {lastNumber(r, "ann")}})
	v.says("bo", "Just back from the post office. The queue was out of the door, so please give me until Thursday for the ones I promised.")
	for _, at := range []struct {
		name          string
		width, height int64
	}{{"phone", 360, 780}, {"desktop", 1280, 860}} {
		b.size(at.width, at.height)
		for _, dark := range []bool{false, true} {
			name := at.name + "-light"
			if b.dark(dark); dark {
				name = at.name + "-dark"
			}
			b.open(v.url + "/")
			b.until(b.says("Who are you?"))
			b.fits("the door, " + name)
			b.keep("door-" + name)
			b.open(v.url + "/as/ann")
			b.until(b.says("post office"))
			b.until(`[...document.images].every((i) => i.complete)`)
			b.fits("the table, " + name)
			b.keep("table-" + name)
			if _, err := chromedp.Run(b.ctx, chromedp.Evaluate[chromedp.Void](`scrollTo(0, 0)`)); err != nil {
				t.Fatal(err)
			}
			b.keep("table-top-" + name)
		}
	}
}

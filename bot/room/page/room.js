// The page works without this script. With it, new lines appear as they are said, forms are sent without leaving the
// page, and lines are completed while they are typed.
"use strict";

const byId = (id) => document.getElementById(id);
const book = byId("book");
if (book) {
  const { address } = document.body.dataset;
  const line = byId("line"), trouble = byId("trouble"), newer = byId("newer");
  followTheBook(address);
  sendForms();
  completeLines(address);

  // followTheBook shows what is new, and keeps the end of the page in sight of who was there.
  function followTheBook() {
    let after = document.body.dataset.after, stream = null;
    const nearEnd = () => innerHeight + scrollY > document.documentElement.scrollHeight - 160;
    const toEnd = () => { scrollTo(0, document.documentElement.scrollHeight); newer.hidden = true; };
    const read = (html) => {
      const made = document.createElement("template");
      made.innerHTML = html; // written and escaped by the room
      return made.content;
    };
    const listen = () => {
      stream = new EventSource(`${address}/live?after=${after}`);
      stream.addEventListener("entry", (e) => {
        after = e.lastEventId;
        const made = read(e.data), entry = made.querySelector(".entry");
        if (byId(entry.id)) return; // sent again after a lost connection
        const follow = nearEnd();
        entry.classList.add("fresh");
        book.append(made);
        if (!follow) newer.hidden = false;
        else if (entry.offsetHeight > innerHeight / 2) entry.scrollIntoView(); // begin at its first line
        else toEnd();
      });
      stream.addEventListener("people", (e) => {
        const now = document.querySelector("nav .tabs");
        for (const item of read(e.data).querySelectorAll("li")) {
          const href = item.firstChild.getAttribute("href");
          const there = [...now.querySelectorAll("a")].find((a) => a.getAttribute("href") === href);
          if (there) there.querySelector(".count").replaceWith(item.querySelector(".count")); // keeps the focus
          else now.append(item);
        }
      });
      stream.onopen = () => { if (trouble.dataset.lost) tell(""); };
      stream.onerror = () => {
        tell(stream.readyState === EventSource.CLOSED ? "The room no longer sends new lines. Please reload the page."
          : "The room can't be reached; trying again.");
        trouble.dataset.lost = "yes";
      };
    };
    // A window that nobody looks at reads nothing, so its member's new slips are counted in the other windows.
    document.addEventListener("visibilitychange", () => { stream?.close(); if (!document.hidden) listen(); });
    addEventListener("scroll", () => { if (nearEnd()) newer.hidden = true; }, { passive: true });
    newer.addEventListener("click", (e) => { e.preventDefault(); toEnd(); line.focus(); });
    if (!document.hidden) listen();
    toEnd();
  }

  function tell(sentence) {
    delete trouble.dataset.lost;
    trouble.textContent = sentence;
  }

  // sendForms says lines and presses buttons in the background; what follows is heard as events.
  function sendForms() {
    document.addEventListener("submit", async (e) => {
      const form = e.target, button = e.submitter;
      e.preventDefault();
      if (form.id === "quick" && button.value.endsWith(" ")) return begin(button.value);
      const typed = line.value;
      if (form.id === "say") {
        if (!typed.trim()) return;
        line.value = "";
      } else if (button.ariaBusy === "true") return;
      else button.ariaBusy = "true";
      const failed = await send(form, button, form.id === "say" ? typed : null);
      tell(failed);
      if (form.id === "say") {
        if (failed && !line.value) line.value = typed;
        return;
      }
      button.ariaBusy = null;
      if (!failed && form.classList.contains("buttons") && !button.classList.contains("pressed")) {
        button.classList.add("pressed");
        const said = document.createElement("span");
        said.className = "unseen";
        said.textContent = " (pressed)";
        button.append(said);
      }
    });
  }

  // send posts a form and returns a sentence when it was not heard, else nothing.
  async function send(form, button, typed) {
    const body = new URLSearchParams(new FormData(form, button));
    if (typed !== null) body.set("line", typed);
    try {
      const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "text/plain" } });
      return answer.ok ? "" : await answer.text();
    } catch {
      return "The room can't be reached, and nothing was said. Is it still running?";
    }
  }

  // begin puts the first word of a line into the box, before what is there.
  function begin(words) {
    line.value = words + line.value.trimStart();
    line.focus();
    line.dispatchEvent(new Event("input"));
  }

  // completeLines is a combobox with a listbox, as in the ARIA Authoring Practices Guide, "Combobox Pattern".
  function completeLines() {
    const offers = byId("offers"), offered = byId("offered");
    let asked = 0, timer = 0, at = -1;
    for (const [name, value] of Object.entries({ role: "combobox", "aria-autocomplete": "list", "aria-controls": "offers", "aria-expanded": "false" })) {
      line.setAttribute(name, value);
    }
    const show = (lines) => {
      at = -1;
      line.removeAttribute("aria-activedescendant");
      offers.replaceChildren(...lines.map((text, i) => {
        const offer = document.createElement("li");
        Object.assign(offer, { id: `offer${i}`, role: "option", dir: "auto", textContent: text });
        offer.ariaSelected = "false";
        return offer;
      }));
      offers.hidden = !lines.length;
      line.ariaExpanded = String(lines.length > 0);
      offered.textContent = lines.length ? `${lines.length} to choose from with the arrow keys` : "";
    };
    const close = () => { asked++; clearTimeout(timer); show([]); };
    const ask = async () => {
      const mine = ++asked, typed = line.value;
      try {
        const answer = await fetch(`${address}/complete?line=${encodeURIComponent(typed)}`, { headers: { Accept: "application/json" } });
        const lines = answer.ok ? await answer.json() : [];
        if (mine === asked) show(lines.filter((l) => l.trim() !== typed.trim()));
      } catch { /* completion is a convenience; what is typed can be said without */ }
    };
    const mark = (to) => {
      const all = [...offers.children];
      at = (to + all.length + 1) % (all.length + 1);
      if (at === all.length) at = -1; // beyond either end is the line itself
      all.forEach((offer, i) => { offer.ariaSelected = String(i === at); });
      if (at < 0) line.removeAttribute("aria-activedescendant");
      else {
        line.setAttribute("aria-activedescendant", all[at].id);
        all[at].scrollIntoView({ block: "nearest" });
      }
    };
    const choose = (offer) => { // and offer what may follow it
      line.value = offer.textContent.trimEnd() + " ";
      close();
      line.focus();
      ask();
    };

    line.addEventListener("input", () => {
      clearTimeout(timer);
      if (line.value.trim()) timer = setTimeout(ask, 100);
      else close();
    });
    line.addEventListener("keydown", (e) => {
      if (e.isComposing) return;
      const open = !offers.hidden;
      if (e.key === "ArrowDown" && !open) ask();
      else if (e.key === "ArrowDown") mark(at + 1);
      else if (e.key === "ArrowUp" && open) mark(at < 0 ? offers.children.length - 1 : at === 0 ? offers.children.length : at - 1);
      else if (e.key === "Escape" && open) close();
      else if (e.key === "Enter" && open && at >= 0) choose(offers.children[at]);
      else return;
      e.preventDefault();
    });
    line.addEventListener("blur", close);
    byId("say").addEventListener("submit", close);
    offers.addEventListener("mousedown", (e) => e.preventDefault()); // the line keeps the focus
    offers.addEventListener("click", (e) => { const offer = e.target.closest("li"); if (offer) choose(offer); });
  }
}

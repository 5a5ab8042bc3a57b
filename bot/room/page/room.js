// The page works without this: it only saves reloading. New entries come as they are made; forms are sent in the
// background; the words that could follow are asked for while typing.
"use strict";
const book = document.getElementById("book");
const line = document.getElementById("line");

if (book) {
  const news = document.getElementById("news");
  const toEnd = () => window.scrollTo(0, document.body.scrollHeight);
  toEnd();
  const live = new EventSource(document.body.dataset.live + "?after=" + document.body.dataset.last);
  live.addEventListener("entry", (e) => {
    const made = document.createElement("template");
    made.innerHTML = e.data; // rendered and escaped by the room
    const entry = made.content.querySelector("li");
    if (!entry || document.getElementById(entry.id)) return;
    const atEnd = window.innerHeight + window.scrollY > document.body.scrollHeight - 200;
    book.append(entry);
    document.querySelector(".empty")?.remove();
    news.textContent = entry.querySelector(".name").textContent + ": " + entry.querySelector(".words p").textContent;
    if (atEnd) toEnd();
  });

  document.addEventListener("submit", async (e) => {
    const form = e.target, pressed = e.submitter;
    if (!form.action.startsWith(location.origin + "/as/")) return;
    e.preventDefault();
    const said = new URLSearchParams(new FormData(form, pressed));
    if (form.id === "say" && !line.value.trim()) return;
    if (form.action.endsWith("/press")) pressed.disabled = true;
    const kept = line.value;
    if (form.id === "say") line.value = "";
    try {
      const answer = await fetch(form.action, { method: "POST", body: said, headers: { "X-Quietly": "yes" } });
      if (!answer.ok) throw new Error(await answer.text());
      toEnd();
    } catch (err) {
      if (form.id === "say") line.value = kept;
      if (form.action.endsWith("/press")) pressed.disabled = false;
      news.classList.remove("quiet");
      news.textContent = err.message || "The room does not answer. Is it still running?";
    }
  });

  for (const start of document.querySelectorAll("[data-start]")) {
    start.addEventListener("click", () => { line.value = start.dataset.start; line.focus(); line.dispatchEvent(new Event("input")); });
  }

  let asked = 0;
  line.addEventListener("input", () => {
    clearTimeout(asked);
    asked = setTimeout(async () => {
      const answer = await fetch(document.body.dataset.live.replace(/live$/, "complete") + "?line=" + encodeURIComponent(line.value));
      if (!answer.ok) return;
      document.getElementById("words").replaceChildren(...(await answer.json()).map((w) => {
        const option = document.createElement("option");
        option.value = w;
        return option;
      }));
    }, 120);
  });
}

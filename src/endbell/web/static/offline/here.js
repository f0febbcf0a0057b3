"use strict";
// Shows on a dossier's own page what was entered there and has not been sent: a list, and a word on
// each spot.  It stands until the server has it.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { outbox, idb } = endbell;

  function streamHere() {
    const named = document.querySelector("[data-dossier]")?.dataset.dossier;
    return named ?? endbell.entry.streamOf(location.pathname, []);
  }

  function element(name, text, attributes = {}) {
    const made = document.createElement(name);
    if (text) made.textContent = text;
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  }

  function timeOf(iso) {
    const at = new Date(iso);
    const today = at.toDateString() === new Date().toDateString();
    const style = today ? { timeStyle: "short" } : { dateStyle: "medium", timeStyle: "short" };
    return element("time", at.toLocaleString(document.documentElement.lang, style), { datetime: iso });
  }

  function listPlace() {
    const own = document.querySelector("[data-unsent-here]");
    if (own) return own;
    const main = document.querySelector("main");
    if (!main) return null;
    const made = element("section", "", { "data-unsent-here": "", "aria-label": "Not sent yet" });
    made.className = "unsent-here";
    main.prepend(made);
    return made;
  }

  function line(entry) {
    const item = element("li", "", { "data-key": entry.key });
    item.append(element("strong", entry.title), " ");
    item.append(element("span", entry.words.map(([, text]) => text).join(", "), { class: "typed" }));
    item.append(" ", timeOf(entry.typed), " ");
    const why = entry.state === "aside" ? entry.sentence : "not sent yet";
    item.append(element("span", why, { class: entry.state === "aside" ? "aside" : "muted" }));
    return item;
  }

  // A spot says it too, in words of its own: tone alone would not do.
  function onSpots(mine) {
    for (const old of document.querySelectorAll("[data-unsent]")) old.removeAttribute("data-unsent");
    for (const old of document.querySelectorAll(".unsent-word")) old.remove();
    const parts = new Set(mine.map((entry) => entry.part).filter(Boolean));
    for (const part of parts) {
      const spots = document.querySelectorAll(`[data-part="${CSS.escape(part)}"]`);
      for (const spot of spots) {
        spot.setAttribute("data-unsent", "");
        if (spot instanceof HTMLElement && spot.tagName !== "INPUT") {
          const place = spot.querySelector(".spot-said") ?? spot;
          place.append(element("span", " not sent yet", { class: "unsent-word" }));
        }
      }
    }
  }

  async function draw() {
    const stream = streamHere();
    if (!stream) return;
    const [entries, account] = await Promise.all([outbox.all(), idb.note("account")]);
    const visible = (e) => !e.who || !account || e.who === account.id;
    const mine = entries.filter((entry) => entry.stream === stream && visible(entry));
    onSpots(mine);
    const place = mine.length || document.querySelector("[data-unsent-here]") ? listPlace() : null;
    if (!place) return;
    place.hidden = !mine.length;
    if (!mine.length) {
      place.textContent = "";
      return;
    }
    const list = element("ul");
    list.append(...mine.map(line));
    place.replaceChildren(element("h2", `Not sent yet: ${mine.length}`), list);
  }

  let drawing = null;

  function soon() {
    drawing ??= setTimeout(() => {
      drawing = null;
      draw().catch(() => {});
    }, 60);
  }

  function start() {
    outbox.watch(soon);
    // an answer of the server may have replaced the spots that bore the word
    document.addEventListener("htmx:afterSettle", soon);
    soon();
  }

  endbell.here = { draw, start, element, timeOf, streamHere };
})();

// The verdict as it moves: the time line reached by touch, hover and keyboard, sentences that light
// up their marks, panels that say when they are being weighed anew.
"use strict";

(() => {
  const WAITS = "being weighed…";

  // ---- what a panel keeps when it is replaced: what was unfolded, what was lit, where the focus was
  const unfolded = new Set();
  let lit = null;
  let focused = null;

  document.addEventListener("toggle", (event) => {
    const name = event.target.dataset?.keep;
    if (!name || !event.target.isConnected) return;
    if (event.target.open) unfolded.add(name); else unfolded.delete(name);
  }, true);

  document.addEventListener("htmx:beforeSwap", (event) => {
    const at = document.activeElement;
    const target = event.detail.target;
    if (!at || !target?.contains?.(at)) return;
    focused = { id: at.id, row: rowOf(at)?.dataset.n, text: at.textContent?.trim().slice(0, 80), tag: at.tagName };
  });

  const restore = (root) => {
    for (const details of root.querySelectorAll?.("details[data-keep]") ?? []) {
      if (unfolded.has(details.dataset.keep)) details.open = true;
    }
    prepare(root);
    if (lit) light(lit.numbers, lit.key);
    refocus();
  };
  for (const name of ["htmx:load", "htmx:sseMessage"]) {
    document.addEventListener(name, (event) => restore(event.target instanceof Element ? event.target : document));
  }

  /** Give the focus back to what stands where it was. */
  const refocus = () => {
    if (!focused || document.activeElement !== document.body) return;
    const was = focused;
    focused = null;
    const same = (was.id && document.getElementById(was.id))
      || (was.row && document.querySelector(`.tl-draw .m${was.row} a`))
      || [...document.querySelectorAll(was.tag)].find((e) => e.textContent.trim().slice(0, 80) === was.text);
    same?.focus({ preventScroll: true });
  };

  // ---- the time line: rows are one stop each, arrows go on from there
  const rowOf = (element) => element.closest?.(".tl-row");

  function prepare(root) {
    const draws = root.matches?.(".tl-draw") ? [root] : root.querySelectorAll?.(".tl-draw") ?? [];
    for (const draw of draws) {
      for (const row of draw.querySelectorAll(".tl-row")) {
        row.dataset.n = [...row.classList].find((c) => /^m\d+$/.test(c))?.slice(1) ?? "";
        for (const tick of row.querySelectorAll(".tl-tick")) tick.setAttribute("tabindex", "-1");
      }
    }
  }

  const shown = (draw) => draw.getClientRects().length > 0;
  const stops = (draw) => [...draw.querySelectorAll(".tl-row a, .tl-row > g[tabindex='0']")];

  document.addEventListener("keydown", (event) => {
    const draw = event.target.closest?.(".tl-draw");
    if (!draw || event.altKey || event.ctrlKey || event.metaKey) return;
    const row = rowOf(event.target);
    const heads = stops(draw);
    const here = heads.indexOf(row ? row.querySelector("a, g[tabindex='0']") : null);
    let to = null;
    if (event.key === "ArrowDown") to = heads[here + 1];
    else if (event.key === "ArrowUp") to = heads[here - 1];
    else if (event.key === "Home") to = heads[0];
    else if (event.key === "End") to = heads.at(-1);
    else if ((event.key === "ArrowRight" || event.key === "ArrowLeft") && row) {
      const line = [row.querySelector("a, g[tabindex='0']"), ...row.querySelectorAll(".tl-tick")];
      const at = line.indexOf(event.target.closest(".tl-tick") ?? line[0]);
      to = line[at + (event.key === "ArrowRight" ? 1 : -1)];
    } else if (event.key === "Escape") {
      hush();
      return;
    } else return;
    event.preventDefault();
    to?.focus();
  });

  // ---- what a tick says, beside it
  const hush = () => {
    for (const box of document.querySelectorAll(".tl-hover")) box.hidden = true;
  };
  const speak = (tick) => {
    const panel = tick.closest(".tl-panel, .wi section");
    const box = panel?.querySelector(".tl-hover");
    const words = tick.getAttribute("aria-label");
    if (!box || !words) return;
    box.textContent = words;
    box.hidden = false;
    const area = panel.getBoundingClientRect();
    const at = tick.getBoundingClientRect();
    const left = Math.min(Math.max(0, at.left - area.left), Math.max(0, area.width - box.offsetWidth));
    box.style.left = `${left}px`;
    box.style.top = `${at.top - area.top - box.offsetHeight - 6}px`;
  };
  const over = (event) => {
    const tick = event.target.closest?.(".tl-draw .tl-tick");
    if (tick) speak(tick); else hush();
  };
  document.addEventListener("pointerover", over);
  document.addEventListener("focusin", over);

  // ---- marks lit up by a sentence, and sentences by a mark
  function light(numbers, key) {
    lit = numbers.length ? { numbers, key } : null;
    for (const old of document.querySelectorAll(".lit")) old.classList.remove("lit");
    for (const n of numbers) {
      for (const row of document.querySelectorAll(`.tl-draw .m${n}, .wy-mark[data-mark="${n}"]`)) row.classList.add("lit");
    }
    for (const say of document.querySelectorAll(".wy-say[data-marks]")) {
      const own = say.dataset.marks.split(" ");
      const chosen = numbers.length > 0 && (key ? say.dataset.marks === key : own.includes(numbers[0]));
      say.classList.toggle("lit", chosen);
      say.querySelector(".wy-pick")?.setAttribute("aria-pressed", String(chosen && Boolean(key)));
    }
  }
  document.addEventListener("click", (event) => {
    const pick = event.target.closest?.(".wy-pick");
    if (pick) {
      const say = pick.closest(".wy-say");
      const key = say.dataset.marks ?? "";
      const off = pick.getAttribute("aria-pressed") === "true";
      light(off ? [] : key.split(" ").filter(Boolean), off ? null : key);
      if (!off) firstLit();
      return;
    }
    const close = event.target.closest?.(".tl-close");
    const link = event.target.closest?.(".tl-draw a[href^='#mark-'], .wy-n[href^='#mark-']");
    const n = link?.getAttribute("href").slice("#mark-".length);
    if (close) {
      event.preventDefault();
      const card = close.closest(".tl-card");
      open(null);
      [...document.querySelectorAll(`.tl-draw .m${card.id.slice(5)} a`)].find(shown)?.focus();
      return;
    }
    if (n) {
      light([n], null);
      if (open(n)) event.preventDefault();
    }
  });

  /** The card of mark n below the drawing; false where this page has none. */
  function open(n) {
    for (const card of document.querySelectorAll(".tl-card.open")) card.classList.remove("open");
    const card = n && document.querySelector(`.tl-card#mark-${CSS.escape(n)}`);
    if (!card) return false;
    card.classList.add("open");
    card.focus({ preventScroll: true });
    const row = [...document.querySelectorAll(`.tl-draw .m${n}`)].find(shown);
    if (row) between(row, card);
    return true;
  }

  /** Bring a row into sight between the strip above and its card below. */
  const between = (row, card) => {
    const top = document.getElementById("d-strip")?.getBoundingClientRect().bottom ?? 0;
    const room = card.getBoundingClientRect().top - top;
    const at = row.getBoundingClientRect();
    if (at.top >= top && at.bottom <= top + room) return;
    window.scrollBy(0, at.top - top - Math.max(0, (room - at.height) / 2));
  };

  /** Bring the first lit row into sight where none is. */
  const firstLit = () => {
    const rows = [...document.querySelectorAll(".tl-row.lit")].filter((r) => r.getClientRects().length);
    const seen = rows.some((r) => {
      const at = r.getBoundingClientRect();
      return at.bottom > 0 && at.top < innerHeight;
    });
    if (!seen) rows[0]?.scrollIntoView({ block: "center" });
  };

  // ---- while a newer verdict is under way, the panels say so
  let began = 0;
  const waiting = () => {
    began = performance.now();
    for (const note of document.querySelectorAll("[data-panel] .weighing")) note.hidden = false;
    setTimeout(tellHowLong, 3000);
  };
  const tellHowLong = () => {
    const notes = [...document.querySelectorAll("[data-panel] .weighing:not([hidden])")];
    if (!notes.length || !began) return;
    const seconds = Math.round((performance.now() - began) / 1000);
    for (const note of notes) note.firstChild.textContent = `${WAITS} ${seconds} s `;
    setTimeout(tellHowLong, 1000);
  };
  document.addEventListener("htmx:sseMessage", (event) => {
    const name = event.detail?.type;
    if (name === "verdict") began = 0;
  });

  /** Listen to the page's own stream beside htmx, which opened it. */
  document.addEventListener("htmx:sseOpen", (event) => {
    const source = event.detail?.source;
    if (!source || source.heard) return;
    source.heard = true;
    source.addEventListener("changed", waiting);
    source.addEventListener("verdict", () => { began = 0; });
  });

  // ---- a page that nobody sees listens no longer: a browser has few connections for many pages
  const HIDDEN_MS = 3000;
  const sources = new Set();
  let leaving = 0;
  document.addEventListener("htmx:sseOpen", (event) => sources.add(event.detail.source));
  document.addEventListener("visibilitychange", () => {
    clearTimeout(leaving);
    if (document.visibilityState === "hidden") {
      leaving = setTimeout(() => { for (const source of sources) source.close(); }, HIDDEN_MS);
      return;
    }
    for (const source of sources) {
      if (source.readyState !== EventSource.CLOSED) continue;
      sources.delete(source);
      source.onerror?.(new Event("error")); // htmx opens another one and tells it what was missed
    }
  });

  // ---- taking back by keyboard, outside of any field
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || event.key.toLowerCase() !== "z") return;
    if (event.target.closest?.("input, textarea, select, [contenteditable]")) return;
    const way = event.shiftKey ? "redo" : "undo";
    const button = document.querySelector(`form[action$="/${way}"]:not(:has([name=n])) button`);
    if (!button) return;
    event.preventDefault();
    button.click();
  });

  document.addEventListener("DOMContentLoaded", () => restore(document));
})();

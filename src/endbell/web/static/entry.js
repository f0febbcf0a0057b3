// The entry sheet: opened from a spot, typed into by thumb or keyboard.  What is typed and not
// entered is kept by the drafts of the outbox; without scripts all is plain links and forms.
"use strict";
(() => {
  const endbell = (globalThis.endbell ??= {});
  const DESK = matchMedia("(min-width: 48rem)");
  const sheet = () => document.getElementById("sheet");
  const body = () => document.getElementById("sheet-body");
  const form = () => document.getElementById("entry");
  const field = () => form()?.querySelector("[data-field]") ?? null;
  const strip = () => document.getElementById("strip");
  let opener = ""; // the spot whose sheet is open
  let waiting = ""; // typed on a spot before its sheet was there
  let away = 0; // how often the sheet was put away by hand

  // ---- opening and closing

  function open(address, part) {
    if (!sheet() && !body()) return false;
    if (part) opener = part;
    globalThis.htmx.ajax("GET", address, { target: "#sheet-body", swap: "innerHTML" });
    return true;
  }

  function show() {
    const dialog = sheet();
    if (!dialog || dialog.open) return;
    // at the desk the amp beside the panel stays within reach
    if (DESK.matches) {
      dialog.show();
      return;
    }
    dialog.showModal();
    // the bar above the strip makes room for the sheet; not before: opening it scrolls back
    const top = document.getElementById("d-strip")?.getBoundingClientRect().top ?? 0;
    if (top > 0) scrollBy(0, top);
  }

  function closed() {
    endWould();
    const spot = opener && document.getElementById(`spot-${opener}`);
    mark("");
    body().replaceChildren();
    opener = "";
    if (spot) spot.focus();
  }

  function done() {
    const dialog = sheet();
    if (dialog) dialog.close();
    else history.length > 1 ? history.back() : null;
  }

  // The strip shows what it would be while something is typed; without it, what it is.
  function endWould() {
    const place = strip();
    if (!place?.classList.contains("is-would")) return;
    place.classList.remove("is-would");
    globalThis.htmx.trigger(place, "restrip");
  }

  function mark(part) {
    for (const old of document.querySelectorAll(".spot.is-open")) old.classList.remove("is-open");
    if (!part) return;
    const spots = document.querySelectorAll(`.amp [data-spot="${CSS.escape(part)}"]`);
    for (const spot of spots) spot.classList.add("is-open");
  }

  // ---- a sheet that has come

  function prepare() {
    const now = form();
    show();
    if (now?.dataset.spot) opener = now.dataset.spot;
    mark(opener);
    if (!now) {
      document.getElementById("sheet-title")?.focus();
      return;
    }
    // a sheet out of a cache brings old ids: what is entered twice would be taken for one entry
    if (endbell.ulid) {
      now.elements.key.value = endbell.ulid();
      const about = now.elements.namedItem("mark");
      if (about) {
        about.value = endbell.ulid();
        const photo = document.querySelector("[data-fresh-mark]");
        if (photo) photo.value = about.value;
      }
    }
    const target = field() ?? now.querySelector("input[type=radio]:checked, input[type=radio]");
    target?.focus({ preventScroll: true });
    if (field() && waiting) type(waiting);
    waiting = "";
    if (field()?.value) field().setSelectionRange?.(field().value.length, field().value.length);
  }

  // ---- keys of the pad

  function type(text) {
    const place = field();
    if (!place) return;
    const [from, to] = [place.selectionStart ?? place.value.length, place.selectionEnd];
    place.setRangeText(text, from, to ?? from, "end");
    told(place);
  }

  function back() {
    const place = field();
    let from = place.selectionStart;
    const to = place.selectionEnd;
    if (from === to) from -= place.value.slice(0, from).endsWith("...") ? 3 : 1;
    place.setRangeText("", Math.max(from, 0), to, "end");
    told(place);
  }

  function bracket() {
    const before = field().value.slice(0, field().selectionStart);
    type(before.lastIndexOf("[") > before.lastIndexOf("]") ? "]" : "[");
  }

  function board() {
    const place = field();
    place.inputMode = "text";
    place.blur();
    place.focus();
  }

  function told(place) {
    place.dispatchEvent(new Event("input", { bubbles: true }));
  }

  const DOES = { back, bracket, board };

  // ---- listening

  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-sheet]");
    if (link && !event.ctrlKey && !event.metaKey && !event.shiftKey && event.button === 0) {
      const address = link.getAttribute("href") ?? link.dataset.sheet;
      if (open(address, link.dataset.spot)) event.preventDefault();
      return;
    }
    const key = event.target.closest("[data-key], [data-does], [data-take]");
    if (!key || !form()?.contains(key)) return;
    if (key.dataset.take !== undefined) {
      field().value = key.dataset.take;
      told(field());
      field().focus();
    } else if (key.dataset.key !== undefined) {
      type(key.dataset.key);
    } else {
      DOES[key.dataset.does]?.();
    }
  });

  // a tap on the pad leaves the caret where it is
  document.addEventListener("mousedown", (event) => {
    if (event.target.closest(".pad .key[type=button]")) event.preventDefault();
  });

  const lone = (event) => event.key.length === 1 && !event.ctrlKey && !event.metaKey && !event.altKey;
  const takesText = (e) =>
    e.matches("textarea, select, input:not([type=radio]):not([type=checkbox]):not([type=file])");

  document.addEventListener("keydown", (event) => {
    const dialog = sheet();
    const here = event.target instanceof Element ? event.target : document.body;
    if (dialog?.open && event.key === "Escape" && !dialog.matches(":modal")) {
      away += 1;
      dialog.close();
      return;
    }
    if (event.key === "Enter" && event.ctrlKey && form()?.contains(here)) {
      form().requestSubmit();
      return;
    }
    if (field() && body().contains(here) && lone(event) && event.key !== " " && !takesText(here)) {
      field().focus(); // the key goes to where the caret is now
      return;
    }
    const spot = here.closest?.(".spots [data-spot]");
    if (!spot) return;
    const row = [...document.querySelectorAll(".spots [data-spot]")];
    const at = row.indexOf(spot);
    const to = { ArrowRight: at + 1, ArrowDown: at + 1, ArrowLeft: at - 1, ArrowUp: at - 1,
      Home: 0, End: row.length - 1 }[event.key];
    if (to !== undefined && row[to]) {
      event.preventDefault();
      row[to].focus();
    } else if (lone(event) && /[0-9A-Za-z?[.]/.test(event.key)) {
      event.preventDefault();
      if (!waiting && open(spot.getAttribute("href"), spot.dataset.spot)) waiting = event.key;
      else waiting += event.key;
    }
  });

  // the spot of the list under the hand is lit in the drawing
  for (const what of ["focusin", "mouseover"]) {
    document.addEventListener(what, (event) => {
      const spot = event.target.closest?.(".spots [data-spot]");
      for (const lit of document.querySelectorAll(".spot.is-lit")) lit.classList.remove("is-lit");
      if (!spot) return;
      const drawn = document.querySelector(`.amp [data-spot="${CSS.escape(spot.dataset.spot)}"]`);
      drawn?.classList.add("is-lit");
    });
  }

  // a hand that puts the sheet away means what was asked for before, too
  const putAway = (event) => {
    if (event.target.closest?.("#sheet")) away += 1;
  };
  document.addEventListener("cancel", putAway, true);
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-close]")) putAway(event);
  }, true);
  document.addEventListener("htmx:configRequest", (event) => {
    event.detail.away = away;
  });
  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.detail.target?.id === "sheet-body" && body()?.firstElementChild) {
      // what comes after its sheet was closed, an answer or the next sheet, does not open it again
      const { verb, away: then = away } = event.detail.requestConfig ?? {};
      const late = sheet() && !sheet().open && (verb === "post" || then !== away);
      if (late) body().replaceChildren();
      else if (!body().querySelector(".sheet-done")) prepare();
    }
    if (event.detail.target?.id === "amp") mark(opener);
  });
  // what was only typed moves the strip no more once its sheet is closed or entered
  document.addEventListener("htmx:oobBeforeSwap", (event) => {
    const would = event.detail.fragment?.querySelector?.("[data-would]") ?? event.detail.fragment;
    const of = would?.getAttribute?.("data-would");
    if (of && of !== form()?.elements.key.value) event.detail.shouldSwap = false;
  });
  document.addEventListener("htmx:afterRequest", (event) => {
    const from = event.detail.elt;
    if (from?.id === "meaning" && from.isConnected && event.detail.successful) {
      const changed = event.detail.xhr.responseText.includes("data-would");
      strip()?.classList.toggle("is-would", changed);
      if (!changed) globalThis.htmx.trigger(strip(), "restrip");
    }
    if (from?.id === "entry" && event.detail.successful) strip()?.classList.remove("is-would");
  });
  document.addEventListener("htmx:validation:halted", () => {
    field()?.focus();
    endbell.say?.("Type what is seen, or say that it can't be.");
  });
  document.addEventListener("sheet-done", done);
  document.addEventListener("close", (event) => {
    if (event.target.id === "sheet") closed();
  }, true);

  // how far down the strip reaches, so that the sheet leaves it free: less once the bar above it has
  // scrolled away
  function measured() {
    const top = document.getElementById("d-strip");
    if (!top || !globalThis.ResizeObserver) return;
    let known = -1;
    const look = () => {
      const ends = Math.max(0, Math.round(top.getBoundingClientRect().bottom));
      if (ends === known) return;
      known = ends;
      document.documentElement.style.setProperty("--strip-h", `${ends}px`);
    };
    new ResizeObserver(look).observe(top);
    addEventListener("scroll", look, { passive: true });
  }

  measured();
  if (form() && !sheet()) prepare();
})();

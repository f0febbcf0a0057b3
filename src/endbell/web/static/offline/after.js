"use strict";
// What a page says and does after an entry was kept but not sent, and while there is no connection.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { outbox } = endbell;
  const LATER = "offline: verdict later";
  const PREVIEW_PATIENCE = 5000;

  function words(form, text) {
    let said = form.querySelector(".camera-said, .outbox-said");
    if (!said) {
      said = document.createElement("p");
      said.className = "outbox-said";
      said.setAttribute("role", "status");
      const beside = form.querySelector("#meaning"); // above the keys, where the eye is
      if (beside) beside.after(said);
      else form.append(said);
    }
    said.textContent = text;
  }

  async function askTheBrowserToo() {
    navigator.storage?.persist?.().catch(() => {});
    if (!navigator.serviceWorker?.controller) return;
    const ready = await navigator.serviceWorker.ready;
    await ready.sync?.register("endbell-outbox").catch(() => {});
  }

  // Whether the form still shows what was kept; somebody may be typing the next thing already.
  function unchanged(form, entry) {
    const now = new FormData(form);
    const pressed = new Set([...form.querySelectorAll("button[name]")].map((one) => one.name));
    const texts = entry.fields.filter(([name]) => !pressed.has(name));
    return texts.every(([name, value]) => now.getAll(name).some((shown) =>
      typeof value === "string" ? shown === value : shown.name === value.file));
  }

  // The form as new: another entry made in it is another entry, of another mark.
  function fresh(form, empty) {
    if (empty) {
      form.reset();
      form.querySelector("#meaning")?.replaceChildren();
    }
    const about = form.elements.namedItem("mark");
    if (!about?.matches("[data-fresh]")) return;
    about.value = endbell.ulid();
    for (const photo of document.querySelectorAll("[data-fresh-mark]")) photo.value = about.value;
  }

  // Where the hand goes next: the next thing to look at on this part, or its neighbour of the same
  // sort that nothing was seen of yet.
  function nextLink(form) {
    if (form.elements.feature) {
      const chips = [...document.querySelectorAll("#sheet-body .e-looks [data-sheet]")];
      const at = chips.findIndex((chip) => chip.hasAttribute("aria-current"));
      return chips.slice(at + 1).find((chip) => !chip.matches(".is-made")) ?? null;
    }
    const part = form.elements.part?.value ?? "";
    const sort = /^(.+)-\d+$/.exec(part)?.[1];
    if (!sort) return null;
    const spots = [...document.querySelectorAll(".spots [data-part]")];
    const at = spots.findIndex((spot) => spot.dataset.part === part);
    const same = (spot) => new RegExp(`^${sort}-\\d+$`).test(spot.dataset.part);
    const free = (spot) => spot.matches(".is-unseen") && !spot.matches("[data-unsent]");
    return spots.slice(at + 1).find((spot) => same(spot) && free(spot)) ?? null;
  }

  // Without a service worker no other sheet can be had: the open one stays, emptied.
  function onward(form) {
    if (!form.closest("#sheet-body") || !navigator.serviceWorker?.controller) return;
    const link = nextLink(form);
    if (link) link.click();
    else document.dispatchEvent(new CustomEvent("sheet-done"));
  }

  function onForms() {
    document.addEventListener("endbell:kept", (event) => {
      const { form, entry, sentence } = event.detail;
      askTheBrowserToo();
      if (!form.isConnected || !form.matches("form")) return;
      const why = sentence && sentence !== "no connection" ? `: ${sentence}` : "";
      words(form, `kept on this device, not sent yet${why}`);
      const empty = unchanged(form, entry);
      if (form.matches("#entry") && empty) onward(form);
      if (form.isConnected) fresh(form, empty);
    });
    document.addEventListener("endbell:refused", (event) => {
      const { form, sentence } = event.detail;
      if (form.isConnected && form.matches("form")) words(form, sentence);
    });
    document.addEventListener("endbell:unkept", (event) => {
      const { form, sentence } = event.detail;
      if (form.isConnected) words(form, sentence);
    });
  }

  const isPreview = (detail) => (detail.requestConfig?.path ?? detail.path ?? "").endsWith("/preview");

  // What the outbox took care of needn't be complained about, and a meaning can wait.
  function quietly(event) {
    const { elt } = event.detail;
    if (isPreview(event.detail)) {
      if (event.detail.xhr?.status) return;
      event.stopImmediatePropagation();
      elt.textContent = LATER;
    } else if (elt?.matches?.("[data-outbox]") && !isRefusal(event.detail.xhr?.status)) {
      event.stopImmediatePropagation();
    }
  }

  // A refusal is said where every refusal is; all else the outbox sees to.
  const isRefusal = (status) => status >= 400 && status < 500 && ![401, 403, 408, 429].includes(status);

  // A page may be older than the session that is going on: what it sends by itself should count too.
  function renew({ csrf, account }) {
    if (!csrf || account !== document.body.dataset.account) return;
    document.body.setAttribute("hx-headers", JSON.stringify({ "X-CSRF-Token": csrf }));
    for (const field of document.querySelectorAll("input[name=csrf]")) field.value = csrf;
  }

  // Under the strip: what it shows does not know of what has not been sent.
  async function strip() {
    const place = document.getElementById("strip");
    if (!place) return;
    let said = document.getElementById("strip-later");
    if (!said) {
      said = document.createElement("p");
      said.id = "strip-later";
      said.className = "muted";
      said.textContent = LATER;
      said.hidden = true;
      place.after(said);
    }
    const root = document.documentElement;
    const entries = await outbox.all();
    const stream = endbell.here.streamHere();
    const mine = entries.some((entry) => entry.stream === stream && entry.state === "waiting");
    const away = root.hasAttribute("data-away") || root.hasAttribute("data-kept-at");
    said.hidden = !(away || mine);
  }

  // What the page shows is asked for anew, as if the server had told of it: it could not.
  function refresh() {
    document.documentElement.removeAttribute("data-kept-at");
    const { htmx } = globalThis;
    if (!htmx) return;
    for (const panel of document.querySelectorAll('[hx-trigger*="sse:"]')) {
      const name = /sse:[a-z]+/.exec(panel.getAttribute("hx-trigger"))[0];
      htmx.trigger(panel, name);
    }
    const shown = document.getElementById("strip");
    if (shown) htmx.trigger(shown, "restrip");
    strip().catch(() => {});
  }

  let refreshing = null;

  // Entries that the outbox sent by itself, here or in the service worker: of those that the page
  // sends the answer brings what changed.
  function onSent(change) {
    if (change.what !== "sent" || change.direct) return;
    if (!change.stream || change.stream !== endbell.here.streamHere()) return;
    clearTimeout(refreshing);
    refreshing = setTimeout(refresh, 300);
  }

  function start() {
    onForms();
    outbox.watch(onSent);
    for (const what of ["sendError", "timeout", "sendAbort", "responseError"]) {
      document.addEventListener(`htmx:${what}`, quietly, true);
    }
    document.addEventListener("htmx:configRequest", (event) => {
      if (isPreview(event.detail)) event.detail.timeout = PREVIEW_PATIENCE;
    });
    endbell.asked = renew;
  }

  endbell.after = { start, strip, refresh };
})();

"use strict";
// Takes what is entered in a form marked `data-outbox`: first into the outbox, then to the server.
//
// With htmx the form goes its usual way, with the key of the outbox; without a connection, or behind
// entries that have not gone yet, the outbox sends it itself.  A form that htmx doesn't handle is
// always sent by the outbox.  `data-outbox` stands on the element that sends (form, or what has
// hx-post); its value, if any, says what is entered.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { outbox, idb, send, turn, answer } = endbell;
  const TWICE = 800; // the same from the same form within this many ms is one tap, not two
  const GOING_ON = 4000;
  const AT_HAND = 5000; // so long somebody waits for a sheet; then the outbox goes on trying
  const last = new WeakMap(); // by form: what was entered last, when
  const aside = new Set(); // set aside while this page was open

  const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

  let keeping = Promise.resolve();

  // Whose page it is; a page without a name on it was opened by whoever signed in last.
  async function whose() {
    return document.body.dataset.account ?? (await idb.note("account"))?.id ?? "";
  }

  function said(form, what, entry, sentence = "") {
    const place = form.isConnected ? form : document.body;
    const detail = { entry, sentence, form };
    place.dispatchEvent(new CustomEvent(`endbell:${what}`, { bubbles: true, detail }));
  }

  // A second tap while the first is under way, or right after it.
  function twice(form, entry, at) {
    const now = JSON.stringify([entry.action, entry.fields]);
    const before = last.get(form);
    if (before?.now === now && (before.underWay || at - before.at < TWICE)) return true;
    last.set(form, { now, at, underWay: true });
    return false;
  }

  // Keeps what was entered: one after the other in the order of entering, however large a photo is
  // that comes before.  `direct(entry)` sends it the page's own way and answers what was said.
  function take(form, about, direct) {
    const at = Date.now();
    const mine = keeping.then(() => keep(form, { ...about, typed: new Date(at).toISOString() }, at));
    keeping = mine.then(() => {}, () => {});
    return mine.then(({ entry, kept }) => kept && goOn(form, about, entry, kept, direct));
  }

  async function keep(form, about, at) {
    const who = await whose().catch(() => "");
    const made = await endbell.entry.entryOf(form, { ...about, who, key: endbell.ulid() });
    const [{ entry }] = made;
    if (twice(form, entry, at)) return { entry, kept: null };
    return { entry, kept: await outbox.add(made).catch((error) => error) };
  }

  async function goOn(form, { htmx }, entry, kept, direct) {
    const now = last.get(form);
    try {
      if (kept === true) {
        endbell.drafts?.forget(form);
        await hand(form, entry, direct);
      } else {
        said(form, "unkept", entry, `this browser can't keep it (${kept.name}): stay on this page`);
        if (htmx) await direct(entry);
        else form.submit();
      }
    } finally {
      now.underWay = false;
    }
  }

  async function hand(form, entry, direct) {
    const result = await turn(
      async (mine) => (mine && (await alone(entry)) ? direct(entry) : null),
      { wait: false },
    );
    if (result && result.kind !== "signed" && result.status !== 403) {
      await send.settle(entry, { ...result, direct: true });
    }
    if (result?.kind === "there") {
      await supersede(entry);
      said(form, "sent", entry);
    } else if (result?.kind === "refused" && result.status !== 403) {
      // an empty form refused: nothing of it is worth keeping
      if (entry.words.length) aside.add(entry.key);
      else await outbox.throwAway(entry.key);
      said(form, "refused", entry, result.sentence);
    } else {
      said(form, "kept", entry, result?.sentence ?? "");
      // what the server can't just now it can't a moment later either
      if (result?.kind === "later" && result.status !== 403) await send.later(result);
      else send.pump();
    }
  }

  // Is nothing of this person still waiting that was entered before?
  async function alone(entry) {
    for (const other of await outbox.all()) {
      if (other.key === entry.key) return true;
      if (other.state === "waiting" && other.who === entry.who) return false;
    }
    return true;
  }

  // What was refused on this page and then entered again rightly needn't be looked at any more.
  async function supersede(entry) {
    for (const key of [...aside]) {
      const old = await outbox.find(key);
      if (!old || old.action !== entry.action || old.part !== entry.part) continue;
      aside.delete(key);
      await outbox.throwAway(key);
    }
  }

  // ---- forms that htmx sends

  let dry = null; // htmx is asked once what it would send, and once more to send it
  let wet = null;
  const flying = new WeakSet();

  const submitter = (event) => event.detail.triggeringEvent?.submitter ?? null;

  document.addEventListener("htmx:confirm", (event) => {
    const { elt, verb, issueRequest } = event.detail;
    if (verb === "get" || !elt.matches("[data-outbox]")) return;
    event.preventDefault();
    if (flying.has(elt)) {
      // htmx would keep only the last of those that come while one is on its way
      const data = new FormData(elt.matches("form") ? elt : undefined, submitter(event));
      take(elt, { action: event.detail.path, method: verb, data, htmx: true }, () => null);
      return;
    }
    dry = { elt, found: null };
    issueRequest(false);
    const found = dry.found;
    dry = null;
    if (!found) return; // not valid, or a question answered with no
    const about = { action: found.path, method: found.verb, data: found.data, htmx: true };
    take(elt, about, (entry) => byHtmx(elt, entry, found.data, issueRequest));
  });

  document.addEventListener("htmx:configRequest", (event) => {
    const asked = event.detail;
    if (dry && asked.elt === dry.elt) {
      if (asked.errors?.length) return;
      event.preventDefault();
      const data = new FormData();
      for (const [name, value] of asked.formData.entries()) data.append(name, value);
      dry.found = { path: asked.path, verb: asked.verb, data };
    } else if (wet && asked.elt === wet.elt) {
      const { entry, data } = wet;
      data.set("key", entry.key);
      data.set("typed", entry.typed);
      asked.parameters = data;
      asked.headers["X-Outbox-Key"] = entry.key;
      asked.timeout = send.patience(entry, AT_HAND);
    }
  });

  document.addEventListener("htmx:beforeSend", (event) => {
    if (wet && event.detail.elt === wet.elt) wet.xhr = event.detail.xhr;
  });

  function byHtmx(elt, entry, data, issueRequest) {
    wet = { elt, entry, data, xhr: null };
    issueRequest(true);
    const xhr = wet.xhr;
    wet = null;
    if (!xhr) return null; // the form has gone from the page: the outbox sends it
    flying.add(elt);
    return new Promise((resolve) => {
      // on the request itself: events of htmx don't arrive from a form that an answer replaced
      xhr.addEventListener("loadend", () => {
        flying.delete(elt);
        resolve(read(xhr, entry));
      });
    });
  }

  function read(xhr, entry) {
    if (!xhr.status) return { kind: "later", sentence: "no connection" };
    const path = xhr.responseURL ? new URL(xhr.responseURL).pathname : "";
    const to = xhr.getResponseHeader("HX-Redirect") ?? path;
    const echo = xhr.getResponseHeader("X-Outbox-Kept");
    const type = xhr.getResponseHeader("Content-Type") ?? "";
    const told = { status: xhr.status, path: to.split("?")[0], echo, key: entry.key };
    return {
      kind: answer.kind(told),
      status: xhr.status,
      sentence: answer.sentence(xhr.responseText, type, xhr.status),
      location: xhr.getResponseHeader("HX-Redirect") ?? "",
      number: xhr.getResponseHeader("X-Dossier-Number") ?? "",
    };
  }

  // ---- forms that htmx doesn't send, or can't

  // What goes with it (the photos of a booking-in) has a little while before the page changes.
  async function then(address) {
    await Promise.race([pause(0).then(() => send.pump()), pause(GOING_ON)]);
    location.assign(address);
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || !form.matches("form[data-outbox]")) return;
    event.preventDefault();
    const by = event.submitter;
    const own = form.getAttribute("action") ?? form.getAttribute("hx-post") ?? location.pathname;
    const action = by?.getAttribute("formaction") ?? own;
    const about = { action, method: "POST", data: new FormData(form, by), htmx: false };
    take(form, about, async (entry) => {
      const token = await send.ask();
      if (!token) return { kind: "later", sentence: "no connection" };
      if (!token.account) return { kind: "signed" };
      const result = await send.one(entry, token.csrf);
      if (result.kind === "there" && result.location) then(result.location);
      return result;
    });
  });

  endbell.take = { take };
})();

"use strict";
// Sends what is in the outbox: in order, one at a time, until the server says it has it.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { outbox, idb, answer, turn } = endbell;
  const FAULTS = 3; // so often may the server stumble over one entry before the others pass it
  const FIRST_WAIT = 1000;
  const LONGEST_WAIT = 60000;
  const PATIENCE = 20000;
  const SLOWEST = 20; // bytes a millisecond that a photo is given time for

  // How long an entry may take on a bad line: a photo longer than a word.
  function patience(entry, least = PATIENCE) {
    const sizes = entry.fields.map(([, value]) => (typeof value === "string" ? 0 : value.size));
    return least + sizes.reduce((sum, size) => sum + size, 0) / SLOWEST;
  }

  async function timed(address, options, patience) {
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), patience);
    try {
      const reply = await fetch(address, { ...options, signal: stop.signal, cache: "no-store" });
      return { reply, text: await reply.text() };
    } finally {
      clearTimeout(timer);
    }
  }

  // Who is signed in on this device.  Whoever signed out stays out of sight until then; a session
  // that only ended is one whose pages are open still.
  async function remember({ account, name }) {
    const before = await idb.note("account");
    if (account) await idb.setNote("account", { id: account, name });
    else if (!before?.out) await idb.setNote("account", null);
    if (account && before?.id && before.id !== account) await endbell.leave?.dropPages();
  }

  // A page may be older than its session: who is signed in, and a token that counts now.
  // Null where the server can't be reached.
  async function ask() {
    try {
      const { reply, text } = await timed("/offline/token", { credentials: "same-origin" }, PATIENCE);
      if (!reply.ok || !(reply.headers.get("Content-Type") ?? "").includes("json")) return null;
      const said = JSON.parse(text);
      if (said.workbench !== true) return null;
      await remember(said);
      endbell.asked?.(said);
      return said;
    } catch {
      return null;
    }
  }

  async function bodyOf(entry) {
    const files = await outbox.filesOf(entry.key);
    const body = files.size ? new FormData() : new URLSearchParams();
    for (const [index, [name, value]] of entry.fields.entries()) {
      if (typeof value === "string") {
        body.append(name, value);
      } else {
        const bytes = files.get(index) ?? new ArrayBuffer(0);
        body.append(name, new File([bytes], value.file, { type: value.type }));
      }
    }
    for (const [name, value] of [["key", entry.key], ["typed", entry.typed]]) {
      body.append(name, value);
    }
    return body;
  }

  // Sends one entry.  Answers {kind, status, sentence, location, text}.
  async function one(entry, csrf) {
    const body = await bodyOf(entry);
    const headers = {
      Accept: "application/json, */*;q=0.5", // a refusal in words without a page around them
      "X-Outbox-Key": entry.key,
      "X-CSRF-Token": csrf,
    };
    const options = { method: entry.method, body, headers, credentials: "same-origin" };
    // booking in then answers with the dossier's address and number instead of its whole page
    if (entry.action === "/book-in") headers["HX-Request"] = "true";
    let got;
    try {
      got = await timed(entry.action, options, patience(entry));
    } catch {
      return { kind: "later", sentence: "no connection" };
    }
    const { reply, text } = got;
    const path = reply.headers.get("HX-Redirect") ?? (reply.url ? new URL(reply.url).pathname : "");
    const echo = reply.headers.get("X-Outbox-Kept");
    const type = reply.headers.get("Content-Type") ?? "";
    const told = { status: reply.status, path: path.split("?")[0], echo, key: entry.key, text, type };
    const kind = answer.kind(told);
    return {
      kind,
      status: reply.status,
      sentence: kind === "there" ? "" : answer.sentence(text, type, reply.status),
      location: reply.headers.get("HX-Redirect") ?? (reply.redirected ? path : ""),
      number: reply.headers.get("X-Dossier-Number") ?? "",
      after: Number(reply.headers.get("Retry-After")) * 1000 || 0,
      text,
    };
  }

  // The next to go.  What is set aside is passed by; what needs something that is still here (a
  // photo of a mark set aside, a mark of an amp not yet booked in) waits for it.
  function nextOf(entries, account, passed) {
    const missing = new Set();
    for (const entry of entries) {
      const ready =
        entry.state === "waiting" &&
        (!entry.who || entry.who === account) &&
        !passed.has(entry.key) &&
        !entry.needs.some((id) => missing.has(id));
      if (ready) return entry;
      for (const id of entry.makes) missing.add(id);
    }
    return null;
  }

  async function waitLonger(sentence, after) {
    const before = await idb.note("wait");
    // a new entry tries at once: that is no reason to wait longer after it
    const early = before && before.until > Date.now() + 100; // a timer may be a hair early
    const tries = Math.min((before?.tries ?? 0) + (early ? 0 : 1), 12);
    const long = Math.min(FIRST_WAIT * 2 ** (tries - 1), LONGEST_WAIT);
    // by chance between half and all of it: many phones shouldn't come back at one moment
    const until = Date.now() + Math.max(after, long * (0.5 + Math.random() / 2));
    await idb.setNote("wait", { tries, until, sentence });
  }

  async function settle(entry, said) {
    if (said.kind === "there") {
      const { location, number, direct = false } = said;
      await outbox.sent(entry.key, { location, number, direct });
      await idb.setNote("wait", null);
      return;
    }
    await outbox.change(entry.key, (now) => {
      const faults = now.faults + (said.kind === "fault" ? 1 : 0);
      const aside = said.kind === "refused" || faults >= FAULTS;
      const state = aside ? "aside" : "waiting";
      const tried = endbell.now();
      return { ...now, state, faults, tries: now.tries + 1, tried, sentence: said.sentence };
    });
  }

  // Sends all that can go.  Answers why it ended: 'done', 'later', 'signed', 'other' (entries of
  // somebody else).
  async function all() {
    let entries = await outbox.all();
    if (!entries.some((entry) => entry.state === "waiting")) return "done";
    let token = await ask();
    if (!token) {
      await waitLonger("no connection", 0);
      return "later";
    }
    if (!token.account) return "signed";
    const fresh = new Set();
    for (;;) {
      const entry = nextOf(entries, token.account, new Set());
      if (!entry) break;
      const said = await one(entry, token.csrf);
      if (said.status === 403 && !fresh.has(entry.key)) {
        // the token may have changed meanwhile: ask once more, then it is a refusal
        fresh.add(entry.key);
        token = (await ask()) ?? token;
        if (!token.account) return "signed";
        continue;
      }
      if (said.kind === "signed") {
        await idb.setNote("account", null);
        return "signed";
      }
      await settle(entry, said);
      if (said.kind === "later" || said.kind === "fault") {
        await waitLonger(said.sentence, said.after);
        return "later";
      }
      entries = await outbox.all();
    }
    return entries.some((entry) => entry.state === "waiting") ? "other" : "done";
  }

  // The same after an entry that the page itself could not get rid of.
  async function later(said) {
    await waitLonger(said.sentence, said.after ?? 0);
    await idb.setNote("ended", "later");
    outbox.tell({ what: "ended", ended: "later" });
  }

  let running = null;
  let again = false;

  // Sends whatever there is, once however often it is asked for.
  function pump() {
    if (running) {
      again = true;
      return running;
    }
    running = (async () => {
      let ended = "later";
      try {
        do {
          again = false;
          outbox.tell({ what: "sending" });
          ended = await turn(all);
        } while (again && ended !== "later");
      } finally {
        running = null;
        await idb.setNote("ended", ended).catch(() => {});
        outbox.tell({ what: "ended", ended });
      }
      return ended;
    })();
    return running;
  }

  endbell.send = { pump, all, ask, one, nextOf, patience, settle, later, waitLonger };
})();

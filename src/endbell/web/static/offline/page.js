"use strict";
// Starts everything on a page: the service worker, the sending and when it is tried again.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { outbox, idb, send, status, here, drafts, after, ahead } = endbell;
  const NOW_AND_THEN = 30000;
  let timer = null;

  async function again() {
    clearTimeout(timer);
    const wait = await idb.note("wait").catch(() => null);
    const left = wait ? Math.max(wait.until - Date.now(), 200) : NOW_AND_THEN;
    timer = setTimeout(() => trying(), left);
  }

  // Also with an empty outbox, while the line says that there is no connection.
  async function trying() {
    const entries = await outbox.all();
    const old = document.documentElement.dataset.keptAt !== undefined;
    if (entries.some((entry) => entry.state === "waiting")) {
      await send.pump();
    } else if (old || (await idb.note("wait"))) {
      if (await send.ask()) {
        await idb.setNote("wait", null);
        if (old) after.refresh();
      } else {
        await send.waitLonger("no connection", 0);
      }
    }
    status.soon();
    await again();
  }

  async function atOnce() {
    await idb.setNote("wait", null).catch(() => {});
    await trying();
  }

  async function worker() {
    if (!navigator.serviceWorker) return;
    try {
      await navigator.serviceWorker.register("/sw.js", { scope: "/", updateViaCache: "none" });
      navigator.serviceWorker.addEventListener("message", (message) => outbox.tell(message.data));
    } catch {
      // without it entries are kept and sent all the same; only pages can't be opened offline
    }
  }

  function start() {
    status.start();
    here.start();
    drafts.start();
    after.start();
    worker().then(() => ahead.start());
    addEventListener("online", atOnce);
    addEventListener("pageshow", (event) => event.persisted && trying());
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") trying();
    });
    outbox.watch((change) => {
      if (change.what === "ended") again();
    });
    trying().catch(() => status.soon());
  }

  endbell.page = { trying, atOnce };
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", start);
  else start();
})();

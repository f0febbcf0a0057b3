"use strict";
// While there is a connection: fetches what will be wanted without one, so that every sheet of an
// open dossier opens at a bench that the Wi-Fi doesn't reach.  One after the other, never while
// somebody types.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const AFTER = 1500;
  const FRESH = 10 * 60 * 1000;
  const MOST = 250;
  const QUIET = 1200;
  const BETWEEN = 100;
  let typedAt = 0;

  const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

  async function isFresh(address) {
    const found = await caches.match(address, { ignoreVary: true });
    return found ? Date.now() - Date.parse(found.headers.get("X-Kept-At")) < FRESH : false;
  }

  // Sheets, panels and sides of the amp that a page or a piece of one leads to.
  function wantedIn(root) {
    const found = new Set();
    const base = document.querySelector("[data-dossier]")?.dataset.dossier;
    if (!base) return found;
    for (const link of root.querySelectorAll("[data-sheet], [hx-get]")) {
      const address = link.getAttribute("hx-get") ?? link.getAttribute("href");
      if (!address?.startsWith(`/dossiers/${base}/`) || /[?&](mark|check|without)=/.test(address)) {
        continue;
      }
      const { pathname, search } = new URL(address, location.origin);
      const how = endbell.rules.how({ method: "GET", path: pathname, mode: "cors", htmx: true });
      if (how === "piece") found.add(pathname + search);
    }
    return found;
  }

  async function quiet() {
    while (Date.now() - typedAt < QUIET || document.hidden) await pause(QUIET / 2);
  }

  async function get(address, headers) {
    await quiet();
    const reply = await fetch(address, { headers, priority: "low" });
    if (reply.status === 401) throw new Error("nobody is signed in");
    return reply.ok ? reply.text() : "";
  }

  // Sides and panels first: they lead to everything else; then each spot, then its other sheets.
  function turnOf(address) {
    if (!address.includes("/spots/")) return 0;
    return address.includes("?") ? 2 : 1;
  }

  async function crawl() {
    const wanted = wantedIn(document);
    const seen = new Set();
    while (seen.size < MOST) {
      const left = [...wanted].filter((address) => !seen.has(address));
      if (!left.length) return;
      const address = left.reduce((one, other) => (turnOf(other) < turnOf(one) ? other : one));
      seen.add(address);
      if (await isFresh(address)) continue;
      const text = await get(address, { "HX-Request": "true" });
      const piece = new DOMParser().parseFromString(text, "text/html");
      for (const more of wantedIn(piece)) wanted.add(more);
      await pause(BETWEEN);
    }
  }

  // The page itself as well: the first one was opened before there was a service worker.
  async function pages() {
    const wanted = [location.pathname + location.search];
    if (document.querySelector('a[href="/book-in"]')) wanted.push("/book-in");
    for (const address of wanted) {
      const path = address.split("?")[0];
      const how = endbell.rules.how({ method: "GET", path, ahead: true });
      if (how === "page" && !(await isFresh(address))) await get(address, { "X-Ahead": "page" });
    }
  }

  async function start() {
    if (!navigator.serviceWorker || !globalThis.caches || navigator.connection?.saveData) return;
    await navigator.serviceWorker.ready;
    document.addEventListener("input", () => {
      typedAt = Date.now();
    }, true);
    await pause(AFTER);
    try {
      await pages();
      await crawl();
    } catch {
      // no connection after all: what is kept is kept
    }
  }

  endbell.ahead = { start, crawl, pages, wantedIn };
})();

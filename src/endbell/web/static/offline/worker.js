"use strict";
// The service worker: keeps the program and the pages last seen, so that a dossier opened before
// opens without a connection; sends the outbox when the browser finds one while no page is open.
// Before it, /sw.js defines STAMP and ASSETS and loads its helpers.
/* global STAMP, ASSETS, SHELLS */
(() => {
  const { rules } = globalThis.endbell;
  const FORM = 1; // changes when what is kept changes its form
  const OF_PROGRAM = `endbell-program-${STAMP}`;
  const PRIVATE = { page: `endbell-pages-${FORM}`, piece: `endbell-pieces-${FORM}`, thumb: `endbell-thumbs-${FORM}` };
  const MOST = { page: 80, piece: 1500, thumb: 400 };
  const PATIENCE = { good: 8000, bad: 1500 }; // a busy server is waited for, a dead line is not
  const BAD_FOR = 30000;
  const BUSY = new Set([502, 503, 504]);
  let badUntil = 0;
  let generation = 0; // goes up when all is dropped: what was asked before must not be kept after

  const asset = (name) => `/static/${STAMP}/${name}`;

  async function fill() {
    const cache = await caches.open(OF_PROGRAM);
    await cache.addAll(ASSETS.map(asset));
    for (const shell of SHELLS) {
      // as nobody in particular: a shell must not carry a name
      await cache.add(new Request(shell, { credentials: "omit", cache: "reload" }));
    }
  }

  async function clean() {
    const wanted = new Set([OF_PROGRAM, ...Object.values(PRIVATE)]);
    for (const name of await caches.keys()) {
      if (name.startsWith("endbell-") && !wanted.has(name)) await caches.delete(name);
    }
  }

  async function dropPrivate() {
    generation += 1;
    await Promise.all(Object.values(PRIVATE).map((name) => caches.delete(name)));
  }

  async function keep(what, request, reply) {
    const mine = generation;
    const body = await reply.blob();
    if (mine !== generation) return;
    const headers = new Headers(reply.headers);
    headers.set("X-Kept-At", new Date().toISOString());
    const cache = await caches.open(PRIVATE[what]);
    await cache.put(request.url, new Response(body, { headers }));
    const keys = await cache.keys();
    for (const old of keys.slice(0, Math.max(0, keys.length - MOST[what]))) await cache.delete(old);
  }

  // The address alone counts: one cache holds whole pages, another pieces.  A page that was never
  // seen with just this question is shown as it was with another; a piece is a thing of its own,
  // but for the sheet of a spot.
  async function kept(what, url) {
    const cache = await caches.open(PRIVATE[what]);
    const found = await cache.match(url, { ignoreVary: true });
    const loosely = what === "page" || new URL(url).pathname.includes("/spots/");
    if (found || !loosely) return found;
    return cache.match(url, { ignoreVary: true, ignoreSearch: true });
  }

  // A page says of itself that it is not new.
  async function marked(found) {
    const text = await found.text();
    const at = found.headers.get("X-Kept-At") ?? "";
    const headers = new Headers(found.headers);
    headers.delete("Content-Length");
    headers.delete("Content-Encoding");
    return new Response(text.replace("<html", `<html data-kept-at="${at}"`), { headers });
  }

  function asked(event, what) {
    const going = fetch(event.request).then((reply) => {
      if (rules.worthKeeping(reply)) event.waitUntil(keep(what, event.request, reply.clone()));
      if (BUSY.has(reply.status)) throw new Error("busy");
      badUntil = 0;
      return reply;
    });
    event.waitUntil(going.catch(() => {
      badUntil = Date.now() + BAD_FOR;
    }));
    return going;
  }

  async function newest(event, what) {
    const going = asked(event, what);
    const found = await kept(what, event.request.url);
    if (!found) return going;
    const late = new Promise((_, reject) => {
      const patience = Date.now() < badUntil ? PATIENCE.bad : PATIENCE.good;
      setTimeout(() => reject(new Error("late")), patience);
    });
    try {
      return await Promise.race([going, late]);
    } catch {
      badUntil = Date.now() + BAD_FOR;
      return what === "page" ? marked(found) : found;
    }
  }

  async function shell(path) {
    const cache = await caches.open(OF_PROGRAM);
    return (await cache.match(path)) ?? (await cache.match("/offline"));
  }

  async function page(event) {
    try {
      return await newest(event, "page");
    } catch {
      return shell(new URL(event.request.url).pathname);
    }
  }

  async function otherPage(event) {
    try {
      return await fetch(event.request);
    } catch {
      return shell("/offline");
    }
  }

  async function programFile(request) {
    const cache = await caches.open(OF_PROGRAM);
    const found = await cache.match(request, { ignoreVary: true });
    if (found) return found;
    try {
      return await fetch(request);
    } catch (error) {
      const name = rules.assetName(new URL(request.url).pathname);
      const later = await cache.match(asset(name), { ignoreVary: true });
      if (later) return later;
      throw error;
    }
  }

  async function thumb(event) {
    const found = await kept("thumb", event.request.url);
    if (found) return found;
    const reply = await fetch(event.request);
    if (reply.status === 200) event.waitUntil(keep("thumb", event.request, reply.clone()));
    return reply;
  }

  // Somebody signed out, or the server has nobody signed in: nothing of them stays.
  async function leaving(event) {
    const { method, url } = event.request;
    const out = method === "POST" || new URL(url).pathname === "/logout";
    if (out) await dropPrivate();
    try {
      const reply = await fetch(event.request);
      if (!out && reply.ok) await dropPrivate();
      return reply;
    } catch {
      return shell("/offline");
    }
  }

  addEventListener("install", (event) => {
    event.waitUntil(fill().then(() => skipWaiting()));
  });

  addEventListener("activate", (event) => {
    event.waitUntil(clean().then(() => clients.claim()));
  });

  addEventListener("fetch", (event) => {
    const { request } = event;
    const url = new URL(request.url);
    if (url.origin !== location.origin) return;
    const how = rules.how({
      method: request.method,
      path: url.pathname,
      mode: request.mode,
      htmx: request.headers.get("HX-Request") === "true",
      ahead: request.headers.get("X-Ahead") === "page",
    });
    if (how === "page") event.respondWith(page(event));
    else if (how === "other-page") event.respondWith(otherPage(event));
    else if (how === "piece") event.respondWith(newest(event, "piece"));
    else if (how === "asset") event.respondWith(programFile(request));
    else if (how === "thumb") event.respondWith(thumb(event));
    else if (how === "leave") event.respondWith(leaving(event));
  });

  addEventListener("message", (event) => {
    if (event.data?.drop) event.waitUntil(dropPrivate());
  });

  addEventListener("sync", (event) => {
    if (event.tag !== "endbell-outbox") return;
    event.waitUntil(
      globalThis.endbell.send.pump().then((ended) => {
        if (ended === "later") throw new Error("not all sent"); // the browser tries again
      }),
    );
  });
})();

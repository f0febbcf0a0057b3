"use strict";
// Which answers the service worker keeps, and for whom.
//
// page    a whole page of a dossier, the shelf, book-in: newest from the server, else as last seen
// piece   a part of such a page, asked for by htmx: the same
// thumb   a small picture; what it shows never changes
// asset   a file of the program
// leave   signing out or in: what was kept is of no concern to whoever comes next
// pass    everything else goes to the server as if there were no service worker
(() => {
  const endbell = (globalThis.endbell ??= {});
  const ID = "[0-9A-HJKMNP-TV-Z]{26}";
  const PAGE = new RegExp(`^/(dossiers|book-in|offline|offline/unsent|dossiers/${ID})$`);
  const PIECE = new RegExp(
    `^/dossiers/${ID}/(strip|timeline|next|why|parts|amp|spots/[^?]+)$`,
  );
  const THUMB = /^\/photos\/[0-9a-f]{64}\/thumb$/;

  function how({ method, path, mode, htmx, ahead }) {
    if (path === "/logout" || path === "/login") return "leave";
    if (method !== "GET") return "pass";
    if (path.startsWith("/static/")) return "asset";
    if (THUMB.test(path)) return "thumb";
    const whole = mode === "navigate" || ahead;
    if (whole && PAGE.test(path)) return "page";
    if (whole) return "other-page";
    if (htmx && (PIECE.test(path) || PAGE.test(path))) return "piece";
    return "pass";
  }

  // Only a good whole answer in HTML is worth showing again.
  function worthKeeping(reply) {
    const type = reply.headers.get("Content-Type") ?? "";
    return reply.status === 200 && !reply.redirected && type.includes("text/html");
  }

  // A page of an older program asks for its files under an older stamp.
  const assetName = (path) => /^\/static\/[^/]+\/(.+)$/.exec(path)?.[1] ?? "";

  endbell.rules = { how, worthKeeping, assetName };
})();

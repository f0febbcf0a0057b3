"use strict";
// What an answer of the server means for the entry that was sent.
//
// 'there'    the server has it: it may leave the outbox
// 'refused'  this entry won't be taken as it is; the others go on
// 'fault'    the server stumbled over this entry; again, and after a few times aside
// 'signed'   nobody is signed in
// 'later'    the server can't just now; nothing else is sent before it
(() => {
  const endbell = (globalThis.endbell ??= {});
  const LATER = new Set([408, 423, 425, 429, 502, 503, 504, 507]);

  // Of several photos some may be refused while the others are kept.
  function partly(text, type) {
    if (!type.includes("json")) return [];
    try {
      const { refused } = JSON.parse(text);
      return Array.isArray(refused) ? refused : [];
    } catch {
      return [];
    }
  }

  // `echo`: the answer's X-Outbox-Kept.  A gate page of a Wi-Fi answers 200 to anything; only the
  // workbench can say the key back.
  function kind({ status, path, echo, key, text = "", type = "" }) {
    if (path === "/login") return "signed";
    if (status >= 200 && status < 300) {
      if (echo !== key) return "later";
      return partly(text, type).length ? "refused" : "there";
    }
    if (status === 401) return "signed";
    if (LATER.has(status)) return "later";
    if (status >= 500) return "fault";
    if (status >= 400) return "refused";
    return "later";
  }

  // The sentence for a person in an answer: the one form of a refusal in JSON, or a fragment's alert.
  function sentence(text, type, status) {
    const plain = (found) => found.replace(/\s+/g, " ").trim().slice(0, 400);
    if (type.includes("json")) {
      try {
        const said = JSON.parse(text);
        if (partly(text, type).length) return plain(partly(text, type).join("; "));
        const { found = "", accepted = "" } = said.error ?? {};
        if (found) return plain(accepted ? `${found}; what would do: ${accepted}` : found);
      } catch {
        // not JSON after all
      }
    } else if (type.includes("html") && globalThis.DOMParser) {
      const page = new DOMParser().parseFromString(text, "text/html");
      const place = page.querySelector("[role=alert], main p, p") ?? page.body;
      if (place?.textContent.trim()) return plain(place.textContent);
    } else if (!type.includes("html") && text.trim()) {
      return plain(text);
    }
    return `the server refused it (${status})`;
  }

  endbell.answer = { kind, sentence };
})();

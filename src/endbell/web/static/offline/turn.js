"use strict";
// One sender at a time among all tabs and the service worker.  The browser's locks end with the tab
// that held them; where there are none (a page without https), a note with an end does the same.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { write, then } = endbell.idb;
  const NAME = "endbell-send";
  const LEASE = 8000;
  const RENEW = 2500;
  const me = endbell.ulid();

  const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

  function claim() {
    return write(["notes"], ({ notes }, give) => {
      give(false);
      then(notes.get("turn"), (found) => {
        const held = found?.value;
        if (held && held.by !== me && held.until > Date.now()) return;
        notes.put({ name: "turn", value: { by: me, until: Date.now() + LEASE } });
        give(true);
      });
    });
  }

  function release() {
    return write(["notes"], ({ notes }) => {
      then(notes.get("turn"), (found) => {
        if (found?.value?.by === me) notes.delete("turn");
      });
    });
  }

  // Within one tab the note can't tell two callers apart: they queue here.
  let queue = Promise.resolve();
  let queued = 0;

  async function byNote(work, wait) {
    if (queued && !wait) return work(false);
    const before = queue;
    let leave;
    queue = new Promise((resolve) => {
      leave = resolve;
    });
    queued += 1;
    try {
      await before;
      while (!(await claim())) {
        if (!wait) return await work(false);
        await pause(400 + Math.random() * 400);
      }
      const renewing = setInterval(claim, RENEW);
      try {
        return await work(true);
      } finally {
        clearInterval(renewing);
        await release();
      }
    } finally {
      queued -= 1;
      leave();
    }
  }

  // Runs `work(true)` while nobody else sends.  `wait: false`: runs `work(false)` at once where
  // somebody else does.
  endbell.turn = function turn(work, { wait = true } = {}) {
    if (!globalThis.navigator?.locks) return byNote(work, wait);
    return navigator.locks.request(NAME, { ifAvailable: !wait }, (lock) => work(lock !== null));
  };
})();

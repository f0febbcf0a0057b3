"use strict";
// Names that this browser makes itself: ULIDs.  Later ones sort later, also within a millisecond.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
  let lastTime = 0;
  let lastChance = null;

  function chance() {
    // one letter a byte: five bits of each are used, all equally likely
    return crypto.getRandomValues(new Uint8Array(16)).map((byte) => byte & 31);
  }

  function oneMore(digits) {
    const next = digits.slice();
    for (let i = next.length - 1; i >= 0; i -= 1) {
      if (next[i] < 31) {
        next[i] += 1;
        return next;
      }
      next[i] = 0;
    }
    return chance();
  }

  endbell.ulid = function ulid(now = Date.now()) {
    // a clock that is set back must not make a later name sort earlier
    const time = Math.max(now, lastTime);
    lastChance = time === lastTime && lastChance ? oneMore(lastChance) : chance();
    lastTime = time;
    let text = "";
    let rest = time;
    for (let i = 0; i < 10; i += 1) {
      text = LETTERS[rest % 32] + text;
      rest = Math.floor(rest / 32);
    }
    return text + Array.from(lastChance, (digit) => LETTERS[digit]).join("");
  };
})();

"use strict";
// The line in the header that always says how much of what was entered has not been sent.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { outbox, idb } = endbell;

  const things = (count, one, many) => `${count} ${count === 1 ? one : many}`;

  // {state, text}: what the line says.  `online`: whether the browser has a network at all.
  function lineOf({ entries, account, wait, ended, online }) {
    const mine = entries.filter((e) => !e.who || !account || e.who === account.id);
    const aside = mine.filter((e) => e.state === "aside").length;
    const waiting = mine.length - aside;
    const others = entries.length - mine.length;
    const away = !online || wait !== null;
    const said = [];
    if (waiting) said.push(`${waiting} not sent yet`);
    if (aside) said.push(things(aside, "needs a look", "need a look"));
    if (others) said.push(`${others} of another account`);
    const nobody = !account || account.out;
    if ((waiting || others) && ended === "signed" && nobody) said.push("sign in to send");
    else if (!online || wait?.sentence === "no connection") said.push("no connection");
    else if (wait) said.push(wait.sentence.split("; ")[0]);
    if (!entries.length) said.unshift("all sent");
    const state = aside ? "aside" : waiting ? "waiting" : others ? "others" : "sent";
    return { state, away, text: said.join(" · ") };
  }

  async function now() {
    const [entries, account, wait, ended] = await Promise.all([
      outbox.all(), idb.note("account"), idb.note("wait"), idb.note("ended"),
    ]);
    return { entries, account, wait, ended, online: navigator.onLine !== false };
  }

  function place() {
    const found = document.getElementById("outbox-line");
    if (found) return found;
    const header = document.querySelector("header");
    if (!header) return null;
    const line = document.createElement("a");
    line.id = "outbox-line";
    line.href = "/offline/unsent";
    header.append(line);
    return line;
  }

  // The spoken line stands in a place of its own that was there before its words changed.
  function parts(line) {
    let words = line.querySelector("[role=status]");
    if (!words) {
      words = document.createElement("span");
      words.setAttribute("role", "status");
      words.setAttribute("aria-live", "polite");
      line.textContent = "";
      line.append(words);
    }
    line.classList.add("outbox-line");
    return words;
  }

  let drawing = null;

  async function draw() {
    const line = place();
    if (!line) return;
    let said;
    try {
      said = lineOf(await now());
    } catch {
      said = { state: "aside", away: false, text: "this browser keeps nothing while offline" };
    }
    const words = parts(line);
    // fifty entries one after the other needn't be spoken one by one
    if (words.textContent !== said.text) words.textContent = said.text;
    line.dataset.state = said.state;
    document.documentElement.toggleAttribute("data-away", said.away);
    endbell.after?.strip().catch(() => {});
  }

  function soon() {
    drawing ??= setTimeout(() => {
      drawing = null;
      draw();
    }, 60);
  }

  function start() {
    outbox.watch(soon);
    addEventListener("online", soon);
    addEventListener("offline", soon);
    draw();
  }

  endbell.status = { lineOf, now, draw, soon, start };
})();

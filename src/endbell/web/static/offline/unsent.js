"use strict";
// The page of what has not been sent: what, when typed, why not; send now, mend, throw away.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { outbox, status } = endbell;
  const { element, timeOf } = endbell.here;
  const page = document.getElementById("unsent");
  if (!page) return;
  const open = new Set(); // being mended: not drawn anew under the typing hand

  function button(text, act, kind = "button") {
    const made = element("button", text, { type: "button", class: kind });
    made.addEventListener("click", act);
    return made;
  }

  function why(entry, now) {
    if (entry.state === "aside") return entry.sentence;
    if (now.ended === "signed" && !now.account) return "not sent yet: sign in to send";
    if (!now.online || now.wait) return `not sent yet: ${now.wait?.sentence ?? "no connection"}`;
    if (entry.needs.some((id) => now.entries.some((e) => e !== entry && e.makes.includes(id)))) {
      return "not sent yet: waits for what was entered before it";
    }
    return "not sent yet";
  }

  function typedList(entry) {
    const list = element("dl", "", { class: "typed" });
    for (const [label, text] of entry.words) {
      list.append(element("dt", label), element("dd", text));
    }
    return list;
  }

  async function mended(entry, form) {
    const data = new FormData(form);
    const changed = new Map();
    for (const [, , name] of entry.words) if (data.has(name)) changed.set(name, data.get(name));
    const fields = entry.fields.map(([name, value]) =>
      changed.has(name) && typeof value === "string" ? [name, changed.get(name)] : [name, value]);
    const words = entry.words.map(([label, text, name]) =>
      changed.has(name) ? [label, changed.get(name), name] : [label, text, name]);
    await outbox.mend(entry.key, fields, words);
    open.delete(entry.key);
    await endbell.page.atOnce();
  }

  function mendingForm(entry) {
    const form = element("form", "", { class: "mend", "aria-label": `Mend: ${entry.title}` });
    for (const [label, text, name] of entry.words) {
      if (typeof entry.fields.find(([n]) => n === name)?.[1] !== "string") continue;
      const id = `mend-${entry.key}-${name}`;
      const line = element("p", "", { class: "field" });
      const input = element("input", "", { id, name, type: "text", autocomplete: "off" });
      input.value = text;
      line.append(element("label", label, { for: id }), input);
      form.append(line);
    }
    const row = element("p", "", { class: "row" });
    row.append(element("button", "Send it so", { class: "button primary" }));
    row.append(button("Leave it", () => {
      open.delete(entry.key);
      draw();
    }));
    form.append(row);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      mended(entry, form);
    });
    return form;
  }

  // Choices of a list can't be mended as text; their own page can enter them anew.
  const mendable = (entry) => entry.words.some(([, text, name]) =>
    entry.fields.some(([n, value]) => n === name && value === text));

  function ask(entry) {
    const dialog = document.getElementById("throw-away");
    dialog.querySelector("[data-what]").textContent =
      [entry.title, ...entry.words.map(([, text]) => text)].join(" · ");
    dialog.returnValue = "";
    dialog.addEventListener("close", () => {
      if (dialog.returnValue === "throw") outbox.throwAway(entry.key);
    }, { once: true });
    dialog.showModal();
  }

  function card(entry, now) {
    const made = element("li", "", { class: "card", "data-key": entry.key, "data-state": entry.state });
    const head = element("h2", entry.title);
    made.append(head, typedList(entry));
    const when = element("p", "typed ", { class: "muted" });
    when.append(timeOf(entry.typed));
    if (entry.tries) when.append(`, tried ${entry.tries} ${entry.tries === 1 ? "time" : "times"}`);
    made.append(when, element("p", why(entry, now), { class: entry.state === "aside" ? "aside" : "why" }));
    const row = element("p", "", { class: "row" });
    if (entry.state === "aside") {
      if (mendable(entry)) {
        row.append(button("Mend", () => {
          open.add(entry.key);
          made.append(mendingForm(entry));
          made.querySelector("form input")?.focus();
          row.hidden = true;
        }));
      }
      row.append(button("Send again", () => again(entry.key)));
    }
    row.append(button("Throw away", () => ask(entry)));
    made.append(row);
    return made;
  }

  async function again(key) {
    await outbox.change(key, (entry) => ({ ...entry, state: "waiting", faults: 0, sentence: "" }));
    await endbell.page.atOnce();
  }

  function sentLine(entry) {
    const item = element("li", "", {});
    item.append(element("strong", entry.title), " ");
    item.append(entry.words.map(([, text]) => text).join(", "), " ", timeOf(entry.at));
    if (entry.number && entry.stream) {
      item.append(" ", element("a", entry.number, { href: `/dossiers/${entry.stream}` }));
    }
    return item;
  }

  async function draw() {
    if (open.size) return;
    const now = await status.now();
    const mine = now.entries.filter((e) => !e.who || !now.account || e.who === now.account.id);
    const others = now.entries.length - mine.length;
    const list = page.querySelector("[data-list]");
    list.replaceChildren(...mine.map((entry) => card(entry, now)));
    page.querySelector("[data-none]").hidden = mine.length > 0;
    page.querySelector("[data-some]").hidden = !mine.some((entry) => entry.state === "waiting");
    page.querySelector("[data-sign-in]").hidden =
      !(now.entries.length && now.ended === "signed" && !now.account?.id);
    const other = page.querySelector("[data-others]");
    other.hidden = !others;
    other.textContent = `${others} entered by another account: they go when it signs in here.`;
    const sent = (await outbox.lately()).filter((e) => !now.account || e.who === now.account.id);
    page.querySelector("[data-lately]").hidden = !sent.length;
    page.querySelector("[data-sent]").replaceChildren(...sent.reverse().map(sentLine));
  }

  let drawing = null;

  page.querySelector("[data-send]").addEventListener("click", () => endbell.page.atOnce());
  outbox.watch(() => {
    drawing ??= setTimeout(() => {
      drawing = null;
      draw();
    }, 60);
  });
  draw();
})();

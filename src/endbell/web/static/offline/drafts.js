"use strict";
// What is typed but not entered yet: kept letter by letter, and put back where it was typed.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { read, write, then } = endbell.idb;
  const KEPT_DAYS = 7;
  const TYPED = "input:not([type]), input[type=text], input[type=search], input[type=tel], " +
    "input[type=number], input[type=date], input[type=email], textarea";

  // A form is known again by where it sends and what it is about, not by its place on the page.
  function nameOf(form) {
    const action = form.getAttribute("hx-post") ?? form.getAttribute("action") ?? location.pathname;
    const about = ["part", "look", "check", "kind", "feature"].map((name) => form.elements[name]?.value ?? "");
    return [document.body.dataset.account ?? "", action, ...about].join(" ");
  }

  const controls = (form) => [...form.querySelectorAll(TYPED)].filter((c) => c.name);

  async function keep(form) {
    const values = controls(form)
      .filter((control) => control.value !== control.defaultValue)
      .map((control) => [control.name, control.value]);
    const name = nameOf(form);
    await write(["drafts"], ({ drafts }) => {
      if (values.length) drafts.put({ form: name, values, at: Date.now() });
      else drafts.delete(name);
    });
  }

  async function forget(form) {
    if (!form.elements) return;
    const name = nameOf(form);
    await write(["drafts"], ({ drafts }) => {
      drafts.delete(name);
    }).catch(() => {});
  }

  async function restore(form) {
    if (form.dataset.draft !== undefined) return;
    form.dataset.draft = "";
    const name = nameOf(form);
    const found = await read(["drafts"], ({ drafts }, give) => then(drafts.get(name), give));
    if (!found || Date.now() - found.at > KEPT_DAYS * 86400000) return;
    let put = 0;
    for (const [wanted, value] of found.values) {
      const control = controls(form).find((c) => c.name === wanted);
      if (!control || control.value !== control.defaultValue) continue;
      control.value = value;
      control.dispatchEvent(new Event("input", { bubbles: true }));
      put += 1;
    }
    if (!put) return;
    const said = document.createElement("p");
    said.className = "muted draft-said";
    said.setAttribute("role", "status");
    said.append("typed ", endbell.here.timeOf(new Date(found.at).toISOString()), ", not entered yet");
    form.append(said);
  }

  function restoreAll() {
    for (const form of document.querySelectorAll("form[data-outbox]")) restore(form).catch(() => {});
  }

  function start() {
    document.addEventListener("input", (event) => {
      const form = event.target.form;
      if (form?.matches?.("form[data-outbox]") && event.target.matches(TYPED)) {
        keep(form).catch(() => {});
      }
    });
    document.addEventListener("htmx:afterSettle", restoreAll);
    restoreAll();
  }

  endbell.drafts = { start, forget, keep, restore };
})();

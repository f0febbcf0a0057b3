"use strict";
// Signing out: what was kept of the pages goes from this device; what has not been sent is asked
// about and never dropped in silence.
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { outbox, idb } = endbell;
  const going = new WeakSet();

  async function mine() {
    const account = await idb.note("account");
    const entries = await outbox.all();
    return { account, entries: entries.filter((e) => !e.who || e.who === account?.id) };
  }

  // The pages, thumbnails and the list of what was sent; not the outbox.
  async function forget() {
    await outbox.forgetSent();
    await idb.setNote("account", { id: "", name: "", out: true });
    await dropPages();
  }

  async function dropPages() {
    // the service worker also has to drop what is on its way
    navigator.serviceWorker?.controller?.postMessage({ drop: true });
    if (!globalThis.caches) return;
    const names = await caches.keys();
    const ofPerson = names.filter((name) => /^endbell-(pages|pieces|thumbs)-/.test(name));
    await Promise.all(ofPerson.map((name) => caches.delete(name)));
  }

  function ask(count) {
    const dialog = document.createElement("dialog");
    dialog.className = "sheet";
    dialog.setAttribute("aria-labelledby", "leave-title");
    const form = document.createElement("form");
    form.method = "dialog";
    const title = document.createElement("h2");
    title.id = "leave-title";
    title.textContent = count === 1 ? "1 not sent yet" : `${count} not sent yet`;
    const words = document.createElement("p");
    words.textContent =
      "Kept on this device, they go when you sign in here again. Nobody else sees them.";
    const row = document.createElement("p");
    row.className = "row";
    const choices = [
      ["keep", "Sign out, keep them", "button primary"],
      ["stay", "Stay", "button"],
      ["throw", "Sign out, throw them away", "button"],
    ];
    for (const [value, text, kind] of choices) {
      const made = document.createElement("button");
      made.value = value;
      made.textContent = text;
      made.className = kind;
      row.append(made);
    }
    form.append(title, words, row);
    dialog.append(form);
    document.body.append(dialog);
    dialog.showModal();
    return new Promise((resolve) => {
      dialog.addEventListener("close", () => {
        dialog.remove();
        resolve(dialog.returnValue || "stay");
      });
    });
  }

  async function leave(form, submitter) {
    const { account, entries } = await mine();
    if (entries.length) {
      const choice = await ask(entries.length);
      if (choice === "stay") return;
      if (choice === "throw") await outbox.empty(account?.id ?? "");
    }
    await forget();
    going.add(form);
    form.requestSubmit(submitter);
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    const action = form.getAttribute("action") ?? form.getAttribute("hx-post") ?? "";
    if (action !== "/logout" || going.has(form)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    leave(form, event.submitter);
  }, true);

  endbell.leave = { forget, dropPages };
})();

"use strict";
// The browser's own database: what has not been sent, and what has to be remembered about sending.
//
// entries  what was entered, in the order in which it was entered (place)
// files    the bytes of photos, apart, so that a list of entries is quick: [key, field number]
// drafts   what is typed in a form but not yet entered
// sent     the last few that went, so that a person can see that they did
// notes    by name: who is signed in, until when to wait, who is sending
(() => {
  const endbell = (globalThis.endbell ??= {});
  const NAME = "endbell";
  const VERSION = 1;
  let opening = null;

  function open() {
    opening ??= new Promise((resolve, reject) => {
      const asked = indexedDB.open(NAME, VERSION);
      asked.onupgradeneeded = () => {
        const db = asked.result;
        const entries = db.createObjectStore("entries", { keyPath: "place", autoIncrement: true });
        entries.createIndex("key", "key", { unique: true });
        db.createObjectStore("files", { keyPath: ["key", "field"] });
        db.createObjectStore("drafts", { keyPath: "form" });
        db.createObjectStore("sent", { keyPath: "key" });
        db.createObjectStore("notes", { keyPath: "name" });
      };
      asked.onsuccess = () => {
        const db = asked.result;
        const forget = () => {
          db.close();
          opening = null;
        };
        db.onversionchange = forget;
        db.onclose = forget;
        resolve(db);
      };
      asked.onerror = () => {
        opening = null;
        reject(asked.error);
      };
    });
    return opening;
  }

  // Runs `work(stores, give)` in one transaction and answers what was given, only after all of it
  // is kept: 'strict' waits for the disk itself, so a flat battery a moment later takes nothing.
  async function transact(names, mode, work) {
    const db = await open();
    return new Promise((resolve, reject) => {
      const options = mode === "readwrite" ? { durability: "strict" } : {};
      const transaction = db.transaction(names, mode, options);
      let given;
      transaction.oncomplete = () => resolve(given);
      transaction.onabort = () => reject(transaction.error ?? new Error("not kept"));
      const stores = Object.fromEntries(names.map((n) => [n, transaction.objectStore(n)]));
      try {
        work(stores, (value) => {
          given = value;
        });
      } catch (error) {
        transaction.abort();
        reject(error);
      }
    });
  }

  const read = (names, work) => transact(names, "readonly", work);
  const write = (names, work) => transact(names, "readwrite", work);

  function then(request, next) {
    request.onsuccess = () => next(request.result);
  }

  async function note(name) {
    const found = await read(["notes"], ({ notes }, give) => then(notes.get(name), give));
    return found ? found.value : null;
  }

  function setNote(name, value) {
    return write(["notes"], ({ notes }) => {
      notes.put({ name, value });
    });
  }

  endbell.idb = { read, write, then, note, setNote };
})();

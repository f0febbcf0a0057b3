"use strict";
// What was entered and has not been sent.  An entry leaves only when the server has said that it
// has it, or when a person throws it away.
//
// An entry: {place, key, stream, action, method, fields: [[name, text | {file, type, bytes}]],
//   title, words: [[label, text]], typed, who, state, sentence, tries, faults, tried, makes, needs}
// state: 'waiting', or 'aside': the server said why it doesn't take it (sentence).
(() => {
  const endbell = (globalThis.endbell ??= {});
  const { read, write, then } = endbell.idb;
  const KEPT_SENT = 30;
  const channel = globalThis.BroadcastChannel ? new BroadcastChannel("endbell-outbox") : null;
  const watchers = new Set();

  function tell(change) {
    channel?.postMessage(change);
    for (const watcher of watchers) watcher(change);
  }
  if (channel) {
    channel.onmessage = (message) => {
      for (const watcher of watchers) watcher(message.data);
    };
  }

  // Keeps entries in their order, all or none: [{entry, files: [[field number, ArrayBuffer]]}].
  // Answers false where the first one's key is kept already.
  async function add(made) {
    const added = await write(["entries", "files"], (stores, give) => {
      then(stores.entries.index("key").getKey(made[0].entry.key), (place) => {
        give(place === undefined);
        if (place !== undefined) return;
        for (const { entry, files } of made) {
          stores.entries.add({ state: "waiting", sentence: "", tries: 0, faults: 0, ...entry });
          for (const [field, bytes] of files) stores.files.put({ key: entry.key, field, bytes });
        }
      });
    });
    if (added) tell({ what: "kept", key: made[0].entry.key, stream: made[0].entry.stream });
    return added;
  }

  const all = () => read(["entries"], ({ entries }, give) => then(entries.getAll(), give));

  const find = (key) =>
    read(["entries"], ({ entries }, give) => then(entries.index("key").get(key), give));

  async function filesOf(key) {
    const range = IDBKeyRange.bound([key, 0], [key, Infinity]);
    const rows = await read(["files"], ({ files }, give) => then(files.getAll(range), give));
    return new Map(rows.map((row) => [row.field, row.bytes]));
  }

  function dropFiles(files, key) {
    files.delete(IDBKeyRange.bound([key, 0], [key, Infinity]));
  }

  // Takes an entry away after the server has said that it has it.
  async function sent(key, said = {}) {
    const entry = await write(["entries", "files", "sent"], (stores, give) => {
      then(stores.entries.index("key").get(key), (found) => {
        if (!found) return;
        give(found);
        stores.entries.delete(found.place);
        dropFiles(stores.files, key);
        const { title, words, typed, who, stream } = found;
        stores.sent.put({ key, title, words, typed, who, stream, at: endbell.now(), ...said });
        then(stores.sent.getAllKeys(), (keys) => {
          for (const old of keys.slice(0, -KEPT_SENT)) stores.sent.delete(old);
        });
      });
    });
    if (entry) tell({ what: "sent", key, stream: entry.stream, ...said });
    return entry;
  }

  async function throwAway(key) {
    await write(["entries", "files"], (stores) => {
      then(stores.entries.index("key").getKey(key), (place) => {
        if (place === undefined) return;
        stores.entries.delete(place);
        dropFiles(stores.files, key);
      });
    });
    tell({ what: "thrown", key });
  }

  // Changes an entry in place; `by` gets it and answers what is to be kept instead.
  async function change(key, by) {
    const changed = await write(["entries"], ({ entries }, give) => {
      then(entries.index("key").get(key), (found) => {
        if (!found) return;
        const next = { ...by(found), place: found.place, key };
        entries.put(next);
        give(next);
      });
    });
    if (changed) tell({ what: "changed", key, stream: changed.stream });
    return changed;
  }

  // Another wording of something that was set aside.  A key belongs to one wording: with the old
  // one the server might answer for the old wording and let the new one drop.
  async function mend(key, fields, words) {
    const fresh = endbell.ulid();
    const mended = await write(["entries", "files"], (stores, give) => {
      then(stores.entries.index("key").get(key), (found) => {
        if (!found) return;
        const next = { ...found, key: fresh, fields, words, state: "waiting", sentence: "" };
        stores.entries.put({ ...next, tries: 0, faults: 0 });
        const range = IDBKeyRange.bound([key, 0], [key, Infinity]);
        then(stores.files.getAll(range), (rows) => {
          for (const row of rows) stores.files.put({ ...row, key: fresh });
          dropFiles(stores.files, key);
        });
        give(next);
      });
    });
    if (mended) tell({ what: "changed", key: fresh, stream: mended.stream });
    return mended;
  }

  const lately = () => read(["sent"], ({ sent }, give) => then(sent.getAll(), give));

  // Everything on this device that somebody typed or saw sent; asked for by hand, at signing out.
  async function empty(who) {
    const entries = (await all()).filter((entry) => entry.who === who);
    for (const entry of entries) await throwAway(entry.key);
    await forgetSent();
  }

  async function forgetSent() {
    await write(["sent", "drafts"], ({ sent, drafts }) => {
      sent.clear();
      drafts.clear();
    });
    tell({ what: "forgotten" });
  }

  function watch(watcher) {
    watchers.add(watcher);
    return () => watchers.delete(watcher);
  }

  endbell.now = () => new Date().toISOString();
  endbell.outbox = {
    add, all, find, filesOf, sent, throwAway, change, mend, lately, empty, forgetSent, watch, tell,
  };
})();

"use strict";
// From a form to an entry of the outbox: its fields, the bytes of its photos, words for a person.
(() => {
  const endbell = (globalThis.endbell ??= {});
  // what belongs to one sending and not to what was typed
  const OF_SENDING = new Set(["csrf", "key", "typed"]);
  const UNSHOWN = new Set(["hidden", "file", "password"]);

  function labelOf(control) {
    const own = control.dataset?.label ?? control.labels?.[0]?.textContent;
    const found = own ?? control.getAttribute?.("aria-label") ?? control.name ?? "";
    return found.replace(/\s+/g, " ").trim();
  }

  // Whether a person chose it: what a form offers anyway says nothing.
  function chosen(control) {
    if (control.type === "radio" || control.type === "checkbox") {
      return control.checked && !control.defaultChecked;
    }
    if (control.tagName === "SELECT") {
      return [...control.selectedOptions].some((option) => !option.defaultSelected);
    }
    return true;
  }

  function wordOf(control, value, name) {
    if (control.type === "radio" || control.type === "checkbox") {
      const group = control.closest("fieldset")?.querySelector("legend")?.textContent ?? "";
      return [group.trim() || name, labelOf(control), name];
    }
    if (control.tagName === "SELECT") {
      const option = [...control.options].find((one) => one.value === value);
      return [labelOf(control), option?.textContent.trim() ?? value, name];
    }
    if (control.tagName === "BUTTON") return ["said", control.textContent.trim(), name];
    return [labelOf(control), value, name];
  }

  // [label, text, name] of all that a person typed, chose or took.
  function wordsOf(form, fields) {
    const words = [];
    const controls = [...(form.elements ?? [])];
    for (const [name, value] of fields) {
      if (typeof value !== "string") {
        words.push(["photo", value.file, name]);
        continue;
      }
      if (!value.trim()) continue;
      const named = controls.filter((control) => control.name === name);
      const control = named.find((one) => one.value === value) ?? named[0];
      if (!control || UNSHOWN.has(control.type) || !chosen(control)) continue;
      words.push(wordOf(control, value, name));
    }
    return words;
  }

  function titleOf(form) {
    const heading = form.querySelector?.("legend, h2, h3") ?? null;
    const found = form.dataset.outbox || form.getAttribute("aria-label") || heading?.textContent;
    return (found || document.title).replace(/\s+/g, " ").trim();
  }

  // The dossier that an address belongs to; a dossier being booked in names its own id.
  function streamOf(action, fields) {
    const found = /^\/dossiers\/([0-9A-HJKMNP-TV-Z]{26})(?:\/|$)/.exec(action);
    const named = fields.find(([name]) => name === "dossier");
    return found?.[1] ?? (typeof named?.[1] === "string" ? named[1] : "");
  }

  // `data`: the FormData that would be sent.  Answers [{entry, files}], in the order in which
  // they are to go; the bytes of photos are read now, because the file they came from may be gone when they are sent.
  async function entryOf(form, { action, method, data, who, key, typed, htmx }) {
    const fields = [];
    const files = [];
    for (const [name, value] of data.entries()) {
      if (OF_SENDING.has(name)) continue;
      if (typeof value === "string") {
        fields.push([name, value]);
      } else if (value.size || value.name) {
        files.push([fields.length, await value.arrayBuffer()]);
        fields.push([name, { file: value.name, type: value.type, size: value.size }]);
      }
    }
    const path = new URL(action, location.href);
    const stream = streamOf(path.pathname, fields);
    const opens = path.pathname === "/book-in";
    const text = (wanted) => fields.find(([name]) => name === wanted)?.[1];
    const mark = text("mark");
    const makesMark = path.pathname.endsWith("/marks") && typeof mark === "string" && mark;
    const needs = opens || !stream ? [] : [stream];
    const named = /\/marks\/([0-9A-HJKMNP-TV-Z]{26})(?:\/|$)/.exec(path.pathname)?.[1];
    if (!makesMark && typeof mark === "string" && mark) needs.push(mark);
    if (named) needs.push(named);
    const about = {
      method: method.toUpperCase(),
      typed,
      page: location.pathname,
      who,
      htmx,
    };
    const entry = {
      ...about,
      key,
      stream,
      action: path.pathname + path.search,
      fields,
      title: titleOf(form),
      words: wordsOf(form, fields),
      part: typeof text("part") === "string" ? text("part") : "",
      makes: [...(opens && stream ? [stream] : []), ...(makesMark ? [mark] : [])],
      needs,
    };
    return opens && stream ? apart(entry, files, about) : [{ entry, files }];
  }

  // The photos of a booking-in go by themselves after it: on a bad line each is one step, and one
  // that is refused takes nothing with it.
  function apart(entry, files, about) {
    const photos = files.map(([field, bytes]) => ({
      entry: {
        ...about,
        key: endbell.ulid(),
        stream: entry.stream,
        action: `/dossiers/${entry.stream}/photos`,
        fields: [entry.fields[field]],
        title: "Photo of the amp",
        words: [["photo", entry.fields[field][1].file, "photo"]],
        part: "",
        makes: [],
        needs: [entry.stream],
      },
      files: [[0, bytes]],
    }));
    const fields = entry.fields.filter(([, value]) => typeof value === "string");
    const words = entry.words.filter(([, , name]) => fields.some(([n]) => n === name));
    return [{ entry: { ...entry, fields, words }, files: [] }, ...photos];
  }

  endbell.entry = { entryOf, streamOf, wordsOf };
})();

// The bench: what is typed and unfolded survives a fresh copy of the page, the keyboard goes from
// step to step, charts are drawn where somebody opens them.
"use strict";
(() => {
  const bench = () => document.getElementById("bench");
  const field = () => document.getElementById("b-value");
  const folds = new Map(); // what somebody folded or unfolded, by name
  const NARROW = matchMedia("(max-width: 47.99rem)");
  let typed = null; // what stood in the form of a step when it was replaced
  let follow = false; // whether the field was in use: then the next one is

  // ---- what is kept when the bench is replaced

  document.addEventListener("click", (event) => {
    const details = event.target.closest?.("summary")?.parentElement;
    if (details?.dataset.keep) folds.set(details.dataset.keep, !details.open);
  });
  document.addEventListener("toggle", (event) => {
    if (event.target.matches?.(".b-charts") && event.target.open) draw(event.target);
  }, true);

  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.target?.id !== "bench") return;
    const form = bench()?.querySelector(".b-form");
    const sent = event.detail.requestConfig?.elt;
    follow = !!form?.contains(document.activeElement) || !!sent?.matches?.("[data-step], .b-pick");
    // a form that was sent is done with; one that was not keeps what is in it
    typed = form && sent !== form
      ? { key: bench().querySelector("[data-step-key]")?.dataset.stepKey,
          values: [...new FormData(form)].filter(([name]) => !["csrf", "key"].includes(name)) }
      : null;
  });

  // at once, and not when it has settled: another copy may come before that
  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.detail.target?.id !== "bench" && event.target.id !== "bench") return;
    for (const details of bench().querySelectorAll("details[data-keep]")) {
      const kept = folds.get(details.dataset.keep);
      // the step to make is never folded away by a fresh copy
      if (kept !== undefined && (kept || !details.querySelector(".b-now"))) details.open = kept;
    }
    const form = bench().querySelector(".b-form");
    const key = bench().querySelector("[data-step-key]")?.dataset.stepKey;
    if (form && typed && typed.key === key) {
      for (const [name, value] of typed.values) {
        const control = form.elements.namedItem(name);
        if (control && "value" in control && control.type !== "hidden" && control.type !== "checkbox") control.value = value;
      }
    }
    typed = null;
    if (!follow) return;
    follow = false;
    const now = document.getElementById("b-now");
    (field() ?? now)?.focus({ preventScroll: true });
    now?.scrollIntoView({ block: NARROW.matches ? "start" : "nearest" });
  });

  // ---- somebody measured: a fresh copy, unless this one is as new

  let newest = 0;
  let going = 0; // entries of this page that are on their way
  const stale = () => {
    if (!going && newest > Number(bench()?.dataset.version)) globalThis.htmx.trigger(bench(), "bench-stale");
  };

  document.addEventListener("htmx:sseMessage", (event) => {
    if (event.target.id !== "b-version") return;
    newest = Number(event.target.textContent);
    stale();
  });

  // The answer to an entry brings a copy that stands at the next step.  One that the server's own
  // news of that entry fetched before would take the place that the answer is meant for.
  document.addEventListener("htmx:beforeSend", (event) => {
    const { xhr, requestConfig, target } = event.detail;
    if (target?.id !== "bench" || requestConfig.verb === "get") return;
    going += 1;
    globalThis.htmx.trigger(bench(), "htmx:abort");
    xhr.addEventListener("loadend", () => {
      going -= 1;
      stale();
    });
  });

  // ---- the keyboard: Enter keeps a reading, arrows go from step to step

  document.addEventListener("keydown", (event) => {
    if (event.target.id !== "b-value" || event.altKey || event.ctrlKey || event.metaKey) return;
    const way = { ArrowDown: "behind", ArrowUp: "before" }[event.key];
    const link = way && bench().querySelector(`[data-step="${way}"]`);
    if (!link) return;
    event.preventDefault();
    link.click();
  });

  // ---- charts: what draws them is fetched with the first that is opened

  const loaded = new Map();
  const load = (address) => {
    if (!loaded.has(address)) {
      loaded.set(address, new Promise((done, failed) => {
        const script = document.createElement("script");
        script.src = address;
        script.onload = done;
        script.onerror = failed;
        document.head.append(script);
      }));
    }
    return loaded.get(address);
  };

  async function draw(details) {
    for (const address of details.dataset.scripts.split(" ")) await load(address);
    for (const figure of details.querySelectorAll("figure[data-chart]:not([data-spec])")) {
      figure.dataset.spec = figure.dataset.chart;
    }
    details.dispatchEvent(new CustomEvent("htmx:load", { bubbles: true, detail: { elt: details } }));
  }
})();

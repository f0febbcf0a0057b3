// The viewer by keyboard: arrow keys, Z for larger, Esc back to the amp; and a button that prints.
"use strict";

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input:not([type=checkbox]), select, textarea, dialog")) return;
  // a photo that is larger than its frame is scrolled by the arrows while it has the focus
  const stage = event.target.closest(".viewer-stage");
  if (stage && event.key.startsWith("Arrow") && stage.scrollWidth > stage.clientWidth) return;
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  const found = document.querySelector(`[data-key="${CSS.escape(key)}"]`);
  if (!found) return;
  event.preventDefault();
  found.click();
});
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});

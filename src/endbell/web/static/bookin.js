// The names of chosen photos, and ids of this sending's own: a page out of a cache has old ones.
"use strict";
(() => {
  const endbell = globalThis.endbell ?? {};
  for (const field of document.querySelectorAll("[data-ulid]")) {
    if (endbell.ulid) field.value = endbell.ulid();
  }
  document.addEventListener("change", (event) => {
    if (!event.target.matches(".camera-field input[type=file]")) return;
    const names = [...event.target.files].map((file) => file.name);
    const said = names.length > 2 ? `${names.length} photos` : names.join(", ");
    document.querySelector(".camera-field .chosen").textContent = said;
  });
})();

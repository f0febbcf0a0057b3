// What every page needs: refusals are said aloud, a sheet closes, the page proves itself.
"use strict";

const said = () => document.getElementById("said");

/** Say a sentence where the eye and a screen reader find it. */
function say(sentence, kind = "") {
  const place = said();
  if (!place) return;
  const line = document.createElement("p");
  line.className = kind;
  line.textContent = sentence;
  place.replaceChildren(line);
  clearTimeout(place.timer);
  place.timer = setTimeout(() => place.replaceChildren(), 9000);
}

document.addEventListener("htmx:responseError", (event) => {
  const answer = new DOMParser().parseFromString(event.detail.xhr.responseText, "text/html");
  say(answer.querySelector(".refused")?.textContent ?? "That was not done.", "refused");
});
document.addEventListener("htmx:sendError", () => {
  say("The workbench does not answer. What was typed is still here.", "refused");
});
document.addEventListener("click", (event) => {
  const closer = event.target.closest("[data-close]");
  if (closer) closer.closest("dialog")?.close();
  const opener = event.target.closest("[data-open]");
  if (opener) document.getElementById(opener.dataset.open)?.showModal();
  const copied = event.target.closest("[data-copy]");
  if (copied) {
    const from = document.getElementById(copied.dataset.copy);
    navigator.clipboard?.writeText(from.value).then(() => say("Copied."));
  }
});
window.endbell = Object.assign(window.endbell ?? {}, { say });

// The editor of a pack's file: which line the caret is on, and from a problem to its line.
(() => {
  'use strict';

  const field = document.getElementById('text');
  const caret = document.getElementById('caret');
  if (!field) return;

  function goTo(line) {
    const lines = field.value.split('\n');
    const at = Math.min(Math.max(line, 1), lines.length) - 1;
    const start = lines.slice(0, at).reduce((sum, text) => sum + text.length + 1, 0);
    field.focus();
    field.setSelectionRange(start, start + lines[at].length);
    const high = parseFloat(getComputedStyle(field).lineHeight);
    field.scrollTop = Math.max((at - 3) * high, 0);
    where();
  }

  function where() {
    const before = field.value.slice(0, field.selectionStart).split('\n');
    caret.textContent = `line ${before.length}, character ${before.at(-1).length + 1}`;
  }

  for (const name of ['keyup', 'click', 'input', 'focus']) field.addEventListener(name, where);
  document.addEventListener('click', event => {
    const link = event.target.closest('[data-to-line]');
    if (link) {
      event.preventDefault();
      goTo(Number(link.dataset.toLine));
    }
  });

  const sent = document.getElementById('editor');
  const recorded = field.defaultValue;
  let sending = false;
  sent.addEventListener('submit', () => { sending = true; });
  addEventListener('beforeunload', event => {
    if (!sending && field.value !== recorded) event.preventDefault();
  });

  if (field.dataset.line) goTo(Number(field.dataset.line));
})();

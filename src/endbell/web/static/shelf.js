// The shelf by keyboard and by many: j and k move, x picks, / searches, Enter opens.  What is
// picked stays picked while the list is searched and leafed through.
(() => {
  'use strict';

  const list = () => document.getElementById('list');
  const rows = () => [...document.querySelectorAll('#list tr[data-id]')];
  const acts = document.getElementById('acts');
  if (!acts) return;
  const picked = new Set();
  let here = null;

  function show() {
    for (const row of rows()) {
      const box = row.querySelector('input[name="id"]');
      const on = picked.has(row.dataset.id);
      if (box) box.checked = on;
      row.classList.toggle('picked', on);
      row.classList.toggle('here', row.dataset.id === here);
    }
    const all = document.getElementById('pick-all');
    const shown = rows();
    if (all) {
      const on = shown.filter(row => picked.has(row.dataset.id)).length;
      all.checked = shown.length > 0 && on === shown.length;
      all.indeterminate = on > 0 && on < shown.length;
    }
    const everything = acts.querySelector('[name="every"]')?.checked;
    const total = Number(list()?.dataset.count ?? 0);
    const many = everything ? total : picked.size;
    acts.classList.toggle('some', picked.size > 0);
    acts.querySelector('.how-many').textContent = many === 1 ? '1 dossier' : `${many} dossiers`;
    // those picked on other pages have no box here: the form brings them along by itself
    const on = new Set(shown.map(row => row.dataset.id));
    const others = [...picked].filter(id => !on.has(id));
    acts.querySelector('.others').replaceChildren(...others.map(id => {
      const field = document.createElement('input');
      Object.assign(field, { type: 'hidden', name: 'id', value: id });
      return field;
    }));
    const every = acts.querySelector('.every');
    every.hidden = total <= shown.length || picked.size < shown.length;
    every.querySelector('.total').textContent = total;
    if (every.hidden) every.querySelector('input').checked = false;
  }

  function pick(id, on) {
    if (on) picked.add(id);
    else picked.delete(id);
    show();
  }

  function move(step) {
    const all = rows();
    if (!all.length) return;
    const at = all.findIndex(row => row.dataset.id === here);
    const next = at < 0 ? (step > 0 ? 0 : all.length - 1)
      : Math.min(Math.max(at + step, 0), all.length - 1);
    here = all[next].dataset.id;
    const link = all[next].querySelector('.number-cell a');
    link.focus({ preventScroll: true });
    all[next].scrollIntoView({ block: 'nearest' });
    show();
  }

  const typing = element => element.closest('input:not([type="checkbox"]), textarea, select, [contenteditable]');

  document.addEventListener('keydown', event => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const search = document.getElementById('q');
    if (typing(event.target)) {
      if (event.target === search && event.key === 'ArrowDown') {
        event.preventDefault();
        move(1);
      }
      return;
    }
    if (event.target.closest('dialog')) return;
    const known = {
      j: () => move(1), ArrowDown: () => move(1), k: () => move(-1), ArrowUp: () => move(-1),
      x: () => here && pick(here, !picked.has(here)),
      '/': () => { search.focus(); search.select(); },
      Escape: () => { picked.clear(); show(); },
      Enter: () => {
        if (event.target === document.body && here) {
          document.querySelector(`#list tr[data-id="${here}"] .number-cell a`)?.click();
          return true;
        }
        return false;
      },
    }[event.key];
    if (known && known() !== false) event.preventDefault();
  });

  document.addEventListener('change', event => {
    const box = event.target;
    if (box.id === 'pick-all') {
      for (const row of rows()) {
        if (box.checked) picked.add(row.dataset.id);
        else picked.delete(row.dataset.id);
      }
      show();
    } else if (box.name === 'id') {
      here = box.closest('tr').dataset.id;
      pick(box.value, box.checked);
    } else if (box.name === 'every') {
      show();
    }
  });
  document.addEventListener('focusin', event => {
    const row = event.target.closest?.('#list tr[data-id]');
    if (row && row.dataset.id !== here) {
      here = row.dataset.id;
      show();
    }
  });
  document.addEventListener('htmx:afterSettle', event => {
    if (!rows().some(row => row.dataset.id === here)) here = null;
    const kept = document.getElementById('view-query');
    if (kept) kept.value = location.search;
    show();
  });
  document.addEventListener('submit', event => {
    if (event.target.closest('#view-form')) {
      document.getElementById('view-query').value = location.search;
    }
  });
  show();
})();

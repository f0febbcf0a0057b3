// Draws every figure.chart from its Vega-Lite specification.  The page forbids evaluated code, so
// expressions are interpreted; the colours are those of the page, day and night.
(() => {
  'use strict';

  const token = (name, instead) =>
    getComputedStyle(document.documentElement).getPropertyValue(name).trim() || instead;

  function config() {
    const ink = token('--ink', '#1a1a1a');
    const soft = token('--soft', '#595959');
    const rule = token('--rule', '#cccccc');
    const tones = kind => token(`--tones-${kind}`, '#777777').split(/\s+/);
    const text = { labelColor: ink, titleColor: ink, labelFontSize: 14, titleFontSize: 14 };
    return {
      font: 'system-ui, sans-serif',
      background: 'transparent',
      view: { stroke: null },
      axis: {
        ...text, titleFontWeight: 'normal', gridColor: rule, domainColor: soft, tickColor: soft,
        labelLimit: narrow() ? 130 : 300,
      },
      legend: {
        ...text, titleFontWeight: 'normal', orient: 'top', columns: narrow() ? 1 : 3,
        labelLimit: 260, symbolType: 'square', symbolSize: 140,
      },
      header: { ...text, labelFontWeight: 'bold', labelAnchor: 'start' },
      bar: { color: tones('category')[0] },
      rule: { color: soft },
      text: { color: ink, fontSize: 14 },
      range: {
        category: tones('category'), diverging: tones('diverging'), ordinal: tones('ordinal'),
      },
    };
  }

  const narrow = () => matchMedia('(max-width: 40rem)').matches;

  // A legend in one column needs room that the bars would have to give; a long label names its
  // thing before a colon, and the colour says which thing that is.
  function forThumbs(spec) {
    const { rows = 0, short = false } = spec.usermeta ?? {};
    const words = spec.encoding.color?.scale?.domain.length ?? 0;
    if (rows) spec.height += 18 * Math.max(words - 1, 0) + 10;
    if (short) {
      spec.encoding.y.axis = { labelExpr: "split(datum.label, ': ')[1] || datum.label" };
    }
  }

  async function draw(figure) {
    const target = figure.querySelector('.chart-here');
    if (!target) return;
    try {
      const answer = await fetch(figure.dataset.spec, { headers: { Accept: 'application/json' } });
      if (!answer.ok) throw new Error(`${answer.status}`);
      const spec = await answer.json();
      if (narrow()) forThumbs(spec);
      const shown = await vegaEmbed(target, spec, {
        actions: false,
        ast: true,
        config: config(),
        defaultStyle: false,
        mode: 'vega-lite',
        renderer: 'svg',
        tooltip: { disableDefaultStyle: true },
      });
      figure.shown?.finalize();
      figure.shown = shown;
      figure.dataset.drawn = 'yes';
    } catch (error) {
      target.textContent = 'The chart can’t be drawn here; the table below says the same.';
      figure.dataset.drawn = 'no';
    }
  }

  const all = (within = document) => within.querySelectorAll('figure.chart[data-spec]');
  const redraw = () => all().forEach(draw);

  document.addEventListener('DOMContentLoaded', redraw);
  document.addEventListener('htmx:load', event => {
    if (document.readyState !== 'loading') {
      all(event.detail.elt).forEach(figure => figure.dataset.drawn || draw(figure));
    }
  });
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', redraw);
  matchMedia('(max-width: 40rem)').addEventListener('change', redraw);
  new MutationObserver(redraw).observe(document.documentElement, { attributeFilter: ['data-theme'] });
})();

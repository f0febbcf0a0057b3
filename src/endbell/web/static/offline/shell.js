"use strict";
// The page instead of one that can't be had: what is kept on this device and opens all the same.
(() => {
  const { element } = globalThis.endbell.here;

  async function keptPages() {
    if (!globalThis.caches) return [];
    const names = (await caches.keys()).filter((name) => name.startsWith("endbell-pages-"));
    const found = [];
    for (const name of names) {
      const cache = await caches.open(name);
      for (const request of await cache.keys()) {
        const reply = await cache.match(request, { ignoreVary: true });
        const title = /<title>([^<]*)<\/title>/.exec(await reply.text())?.[1] ?? "";
        found.push({ path: new URL(request.url).pathname, title, at: reply.headers.get("X-Kept-At") });
      }
    }
    const seen = new Map(found.map((page) => [page.path, page]));
    return [...seen.values()].sort((a, b) => (a.at < b.at ? 1 : -1));
  }

  const plain = (html) =>
    new DOMParser().parseFromString(html, "text/html").documentElement.textContent.trim();

  async function draw() {
    const pages = await keptPages();
    const section = document.querySelector("[data-kept]");
    section.hidden = !pages.length;
    section.querySelector("[data-pages]").replaceChildren(
      ...pages.map(({ path, title }) => {
        const item = element("li");
        item.append(element("a", plain(title) || path, { href: path }));
        return item;
      }),
    );
  }

  const again = document.querySelector("[data-again]");
  again.href = location.href;
  draw();
})();

// The song at a glance: its energy as one line over all sections, each a place to go to.

import { ticksOf } from "./geometry.js";
import { called, make } from "./words.js";

export class Glance {
  constructor(store, place) {
    this.store = store;
    this.place = place;
    store.watch(["view"], () => this.build());
    store.watch(["place"], () => this.follow());
  }

  build() {
    const { view } = this.store.now;
    const end = view.bars[view.bars.length - 1];
    const total = end.tick + end.ticks;
    const x = (tick) => Math.round((tick / total) * 10000) / 10;
    const y = (energy) => Math.round((1 - Math.min(1, Math.max(0, energy))) * 460) / 10 + 2;
    let path = "";
    for (const bar of view.bars) path += `${path ? "L" : "M"}${x(bar.tick)} ${y(bar.energy)}L${x(bar.tick + bar.ticks)} ${y(bar.energy)}`;
    const chart = make("div", { class: "curvebox", "aria-hidden": "true" });
    chart.innerHTML = `<svg viewBox="0 0 1000 50" preserveAspectRatio="none"><path class="under" d="${path}V50H0z"/><path class="over" d="${path}"/></svg>`;
    this.cursor = make("span", { class: "glancecursor", hidden: true });
    chart.append(this.cursor);
    const list = make("ol", { class: "form" }, ...view.sections.map((section, index) => {
      const [from, to] = ticksOf(view, section);
      const item = make("li", {}, make("a", { href: `#section-${index}`, title: called(view, section) }, called(view, section)));
      item.style.flexGrow = String((to - from) / total);
      return item;
    }));
    this.items = [...list.children];
    this.total = total;
    this.place.replaceChildren(make("figcaption", {}, "Energy"), chart, make("nav", { "aria-label": "Sections" }, list));
  }

  follow() {
    const { place, view } = this.store.now;
    this.items.forEach((item, index) => { if (place && place.section === index) item.setAttribute("aria-current", "true"); else item.removeAttribute("aria-current"); });
    this.cursor.hidden = !place;
    const bar = place && view.bars[place.bar - 1];
    if (bar) this.cursor.style.left = `${(bar.tick / this.total) * 100}%`;
  }
}

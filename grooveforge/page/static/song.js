// The column of sections: headings, strips, what differs, findings; drawing what is in sight first.

import { TOP, rowsOf } from "./geometry.js";
import { drawn, inWords } from "./score.js";
import { barsWords, called, feelWords, make, plain, refill, valueWords } from "./words.js";

const SCREENS_AT_ONCE = 1;
const later = globalThis.requestIdleCallback ?? ((work) => setTimeout(work, 1));

export class SongView {
  constructor(store, place, panel) {
    this.store = store;
    this.place = place;
    this.panel = panel; // (section) -> the element with its controls
    this.blocks = [];
    this.width = 0;
    this.undrawn = new Set();
    store.watch(["view", "findings"], () => this.build());
    store.watch(["chosen", "state", "tables", "answers"], () => this.open());
    store.watch(["bar"], () => this.startMark());
    store.watch(["place", "playing"], () => this.follow());
    new ResizeObserver(() => this.resized()).observe(place);
  }

  /** Shells of every section, and the drawings of those that the first screens show. */
  build() {
    const { view } = this.store.now;
    this.width = this.measured();
    if (this.blocks.length !== view.sections.length) {
      this.blocks = view.sections.map((_, index) => this.shell(index));
      this.place.replaceChildren(legend(), ...this.blocks.map((block) => block.element));
      this.open();
    }
    let height = 0;
    this.undrawn = new Set();
    for (const section of view.sections) {
      this.head(section);
      const rows = rowsOf(view, section, this.width).length;
      const block = this.blocks[section.index];
      block.strip.style.minHeight = `${rows * TOP.high}px`;
      if (height < SCREENS_AT_ONCE * innerHeight || block.drawing) this.draw(section.index);
      else this.undrawn.add(section.index);
      height += rows * TOP.high + 90;
    }
    if (this.undrawn.size) later(() => this.drawRest());
    this.startMark();
    this.follow();
  }

  measured() {
    return Math.max(240, Math.floor(this.place.clientWidth) - 2);
  }

  resized() {
    if (this.measured() !== this.width) this.build();
  }

  shell(index) {
    const strip = make("div", { class: "strip", role: "img", onclick: (event) => this.clicked(event, index) });
    const rule = make("div", { class: "rule" });
    const cursor = make("div", { class: "cursor", hidden: true }, rule);
    const start = make("div", { class: "startmark", hidden: true });
    const rows = make("div", { class: "rows" });
    strip.append(rows, start, cursor);
    const heading = make("div", { class: "sectionhead" });
    const slot = make("div", { class: "slot" });
    const element = make("section", { class: "part", id: `section-${index}`, "aria-labelledby": `name-${index}` }, heading, slot, strip);
    return { element, heading, slot, strip, rows, cursor, rule, start, drawing: "" };
  }

  draw(index) {
    const { view } = this.store.now;
    const section = view.sections[index];
    const block = this.blocks[index];
    const drawing = drawn(view, section, this.width);
    this.undrawn.delete(index);
    if (drawing === block.drawing) return;
    block.rows.innerHTML = drawing;
    block.drawing = drawing;
    block.strip.setAttribute("aria-label", inWords(view, section));
  }

  drawRest() {
    const started = performance.now();
    for (const index of [...this.undrawn]) {
      this.draw(index);
      if (performance.now() - started > 8) break;
    }
    if (this.undrawn.size) later(() => this.drawRest());
  }

  head(section) {
    const { view } = this.store.now;
    const block = this.blocks[section.index];
    const bar = view.bars[section.bar - 1];
    const last = view.bars[section.bar + section.bars - 2];
    const tempo = bar.tempo === last.tempo ? plain(bar.tempo) : `${plain(bar.tempo)} to ${plain(last.tempo)}`;
    const facts = [barsWords(section.bar, section.bars), bar.meter, `♩ = ${tempo}`, section.feel ? feelWords(section.feel) : null];
    if (section.fixed) facts.push(section.fixed === true ? "kept as it is" : `kept: ${valueWords(section.fixed)}`);
    const changes = section.differences.map((difference) => difference.in_words).join("; ");
    const before = section.against === null || section.against === undefined ? null : view.sections[section.against];
    const findings = (view.findings ?? []).filter((finding) => finding.bar >= section.bar && finding.bar < section.bar + section.bars);
    const open = this.store.now.chosen === section.index;
    refill(
      block.heading,
      make("h2", { id: `name-${section.index}` }, called(view, section)),
      make("p", { class: "sectionfacts" }, facts.filter(Boolean).join(" · ")),
      make("p", { class: "sectiondoes" },
        make("button", { type: "button", id: `change-${section.index}`, class: "word", "aria-expanded": String(open), "aria-controls": `slot-${section.index}`,
          "aria-label": `${this.doing(open)} ${called(view, section)}`, onclick: () => this.choose(section.index) }, this.doing(open)),
        make("button", { type: "button", id: `play-${section.index}`, class: "word", "aria-label": `play from here, ${called(view, section)}`,
          onclick: () => this.playFrom(section.bar) }, "play from here")),
      before ? make("p", { class: changes ? "differs" : "same" }, changes || `as ${called(view, before)}`) : null,
      ...findings.map((finding) => make("p", { class: "findingline" },
        make("strong", {}, `Bar ${finding.bar}, beat ${finding.beat}: `), `${finding.limbs.join(", ")} - ${finding.reason}. ${finding.change ?? ""}`)),
    );
    block.slot.id = `slot-${section.index}`;
  }

  /** What the button beside a section's name does; an exported file has no server and changes nothing. */
  doing(open) {
    return open ? "close" : this.store.api ? "change" : "settings";
  }

  choose(index) {
    this.store.set({ chosen: this.store.now.chosen === index ? null : index });
  }

  playFrom(bar) {
    this.store.set({ bar });
    this.onplay?.();
  }

  /** Puts the controls into the section that is chosen. */
  open() {
    const { chosen, view } = this.store.now;
    this.blocks.forEach((block, index) => {
      const open = index === chosen;
      block.element.classList.toggle("chosen", open);
      const button = block.heading.querySelector(`#change-${index}`);
      if (button) { button.setAttribute("aria-expanded", String(open)); button.textContent = this.doing(open); button.setAttribute("aria-label", `${button.textContent} ${called(view, view.sections[index])}`); }
      if (open && view.sections[index]) refill(block.slot, this.panel(view.sections[index]));
      else if (block.slot.firstChild) block.slot.replaceChildren();
    });
  }

  /** Moves the rule through the bar that sounds. */
  within(share) {
    if (this.lit) this.blocks[this.lit.section].rule.style.transform = `translateX(${Math.round(share * this.lit.width)}px)`;
  }

  /** Row, x and width of a bar within its section's strip. */
  spot(bar) {
    const { view } = this.store.now;
    const row = view.bars[bar - 1];
    if (!row) return null;
    const rows = rowsOf(view, view.sections[row.section], this.width);
    for (const [number, one] of rows.entries()) {
      const found = one.bars.find((place) => place.bar.bar === bar);
      if (found) return { section: row.section, top: number * TOP.high, x: found.x, width: found.width };
    }
    return null;
  }

  startMark() {
    const spot = this.spot(this.store.now.bar);
    for (const block of this.blocks) block.start.hidden = true;
    if (spot) laid(this.blocks[spot.section].start, spot.x, spot.top + TOP.ribbon - 2);
  }

  /** The bar that sounds: a rule that moves through it, and the section in sight. */
  follow() {
    const { place, playing } = this.store.now;
    const spot = playing && place ? this.spot(place.bar) : null;
    this.blocks.forEach((block, index) => {
      block.cursor.hidden = !spot || spot.section !== index;
      block.element.classList.toggle("sounds", Boolean(spot) && spot.section === index);
    });
    this.lit = spot;
    if (!spot) { this.row = null; return; }
    const { cursor, strip } = this.blocks[spot.section];
    laid(cursor, spot.x, spot.top + TOP.ribbon - 4);
    cursor.style.width = `${spot.width}px`;
    const row = `${spot.section}/${spot.top}`;
    if (row !== this.row) {
      this.row = row;
      const box = strip.getBoundingClientRect();
      const y = box.top + spot.top;
      if (y < 150 || y + TOP.high > innerHeight - 80) {
        const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
        scrollBy({ top: y - innerHeight / 3, behavior: still ? "auto" : "smooth" });
      }
    }
  }

  clicked(event, index) {
    const box = this.blocks[index].strip.getBoundingClientRect();
    const { view } = this.store.now;
    const rows = rowsOf(view, view.sections[index], this.width);
    const row = rows[Math.floor((event.clientY - box.top) / TOP.high)];
    const place = row?.bars.find(({ x, width }) => event.clientX - box.left >= x && event.clientX - box.left < x + width);
    if (place) this.store.set({ bar: place.bar.bar });
  }
}

const legend = () => make("p", { class: "legend" }, "The ribbon is the hand and says what it strikes; under it snare, kick and, on the thin line, the rest. A larger dot is louder, a long stem is a backbeat. ",
  make("b", {}, "Red"), " differs from the statement before.");

function laid(element, x, y) {
  element.hidden = false;
  element.style.transform = `translate(${x}px, ${y}px)`;
}

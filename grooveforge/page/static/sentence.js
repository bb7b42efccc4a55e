// Playing, as one sentence of plain controls above the song; and what can be heard, as words that are struck out.

import { called, make, refill, select } from "./words.js";

const SPEEDS = [0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2];
const LINES = [[0, "hand", "1"], [1, "snare", "2"], [2, "kick", "3"], [3, "the rest", "4"]];

export class Sentence {
  constructor(store, player, place, extras) {
    this.store = store;
    this.player = player;
    this.place = place;
    this.extras = extras; // elements that stand behind the lines: MIDI out
    place.addEventListener("submit", (event) => event.preventDefault());
    this.build();
    store.watch(["view"], () => this.sections());
    store.watch(["bar"], () => this.start());
    store.watch(["playing"], ({ playing }) => this.playing(playing));
    store.watch(["place", "view"], () => this.where());
    store.watch(["silent", "riff", "click", "loop", "rate"], () => this.ways());
  }

  build() {
    const { store } = this;
    const set = (patch) => store.set(patch);
    this.play = make("button", { type: "button", id: "play", class: "play", onclick: () => this.player.toggle() }, "Play");
    this.from = make("select", { id: "from", "aria-label": "Play from section", onchange: () => set({ bar: store.now.view.sections[Number(this.from.value)].bar }) });
    this.bar = make("input", { id: "frombar", type: "number", min: "1", inputmode: "numeric", "aria-label": "Play from bar",
      onchange: () => set({ bar: Math.min(store.now.view.bars.length, Math.max(1, Math.round(Number(this.bar.value)) || 1)) }) });
    this.loop = select({ id: "loop", "aria-label": "Loop" }, [["no", "nothing"], ["section", "it"], ["song", "the whole song"]], store.now.loop, (loop) => set({ loop }));
    this.rate = select({ id: "speed", "aria-label": "Speed" }, SPEEDS.map((rate) => [rate, `${Math.round(rate * 100)} %`]), store.now.rate, (rate) => set({ rate }));
    this.click = select({ id: "click", "aria-label": "Click" }, [[false, "no click"], [true, "a click"]], store.now.click, (click) => set({ click }));
    this.count = select({ id: "countin", "aria-label": "Count-in" }, [[0, "no count-in"], [1, "a bar of count-in"], [2, "two bars of count-in"]], store.now.countIn, (countIn) => set({ countIn }));
    this.volume = make("input", { id: "volume", type: "range", min: "0", max: "1", step: "0.05", value: String(store.now.volume), "aria-label": "Loudness", oninput: () => set({ volume: Number(this.volume.value) }) });
    this.now = make("output", { id: "now", class: "now", for: "play" });
    const words = (text) => make("span", {}, text);
    const bit = (...children) => make("span", { class: "bit" }, ...children);
    this.lines = LINES.map(([line, name, key]) => make("button", { type: "button", class: "line", id: `line-${line}`, "aria-pressed": "true", title: `key ${key}`,
      onclick: () => this.silence(line) }, name));
    this.riffLine = make("button", { type: "button", class: "line", id: "riff", onclick: () => set({ riff: !store.now.riff }) }, "the riff");
    this.riffLevel = make("input", { id: "rifflevel", type: "range", min: "0", max: "1", step: "0.05", value: String(store.now.riffLevel), "aria-label": "Loudness of the riff", oninput: () => set({ riffLevel: Number(this.riffLevel.value) }) });
    this.riffPart = make("span", { class: "bit" }, this.riffLine, this.riffLevel);
    refill(
      this.place,
      make("p", { class: "first" },
        bit(this.play, words(" from "), this.from), " ", bit(words("at bar "), this.bar, words(",")), " ",
        bit(words("loop "), this.loop, words(",")), " ", bit(words("at "), this.rate), " of the tempo, ", bit(words("with "), this.click, words(",")), " ",
        bit(this.count, words("."))),
      make("p", { class: "second" }, this.now, words("You hear "), ...this.lines, this.riffPart, " ", bit(words("with loudness "), this.volume), " ", ...this.extras,
        make("span", { class: "hints" }, make("kbd", {}, "space"), " plays, ", make("kbd", {}, "?"), " lists the keys")),
    );
  }

  silence(line) {
    const silent = new Set(this.store.now.silent);
    if (!silent.delete(line)) silent.add(line);
    this.store.set({ silent });
  }

  sections() {
    const { view } = this.store.now;
    this.from.replaceChildren(...view.sections.map((section, index) => make("option", { value: String(index) }, called(view, section))));
    this.bar.max = String(view.bars.length);
    this.riffPart.hidden = !view.sections.some((section) => section.riff?.length);
    this.start();
  }

  start() {
    const { view } = this.store.now;
    const bar = Math.min(this.store.now.bar, view.bars.length);
    this.from.value = String(view.bars[bar - 1].section);
    this.bar.value = String(bar);
  }

  playing(playing) {
    this.play.textContent = playing ? "Stop" : "Play";
    this.place.classList.toggle("on", playing);
  }

  where() {
    const { place, view } = this.store.now;
    this.now.hidden = !place;
    if (!place) return;
    const name = called(view, view.sections[Math.min(place.section, view.sections.length - 1)]);
    this.now.textContent = place.counting ? `counting in to ${name}` : `bar ${place.bar} of ${view.bars.length}, ${name}`;
  }

  ways() {
    const { silent, riff, click, loop, rate } = this.store.now;
    LINES.forEach(([line], i) => this.lines[i].setAttribute("aria-pressed", String(!silent.has(line))));
    this.riffLine.setAttribute("aria-pressed", String(riff));
    this.click.value = JSON.stringify(click);
    this.loop.value = JSON.stringify(loop);
    this.rate.value = JSON.stringify(rate);
  }
}

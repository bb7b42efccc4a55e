// An audio file of the user's beside the drums of a section. It is read by the browser and never leaves it.

import { stretched } from "./stretch.js";
import { called, make } from "./words.js";

export class Beside {
  constructor(store, player, song) {
    this.store = store;
    this.player = player;
    this.files = new Map(); // section's place in the form -> {name, buffer, level, atRate: Map}
    this.nodes = [];
    player.followers.push((events, cut) => { if (cut !== null) this.cut(cut); });
    store.watch(["place", "playing"], () => this.place());
    song.addEventListener("dragover", (event) => { if (this.sectionAt(event) !== null) { event.preventDefault(); event.dataTransfer.dropEffect = "copy"; } });
    song.addEventListener("drop", (event) => {
      const section = this.sectionAt(event);
      const file = event.dataTransfer.files[0];
      if (section === null || !file) return;
      event.preventDefault();
      this.add(section, file);
    });
    addEventListener("dragover", (event) => event.preventDefault()); // a file that misses a section does not replace the page
    addEventListener("drop", (event) => event.preventDefault());
  }

  sectionAt(event) {
    const element = event.target.closest?.(".part");
    return element ? Number(element.id.split("-")[1]) : null;
  }

  async add(index, file) {
    await this.player.ready();
    try {
      const buffer = await this.player.context.decodeAudioData(await file.arrayBuffer());
      this.files.set(index, { name: file.name, buffer, level: 0.8, atRate: new Map([[1, buffer]]) });
      this.store.set({ trouble: null, besides: (this.store.now.besides ?? 0) + 1 });
    } catch {
      this.store.set({ trouble: { message: `${file.name} is no audio file that this browser can read`, detail: "" } });
    }
  }

  /** What a section shows of it. */
  element(section) {
    const held = this.files.get(section.index);
    const input = make("input", { type: "file", id: "besidefile", accept: "audio/*", class: "hiddenfile", "aria-label": `Audio file for ${called(this.store.now.view, section)}`, onchange: () => input.files[0] && this.add(section.index, input.files[0]) });
    if (!held) return make("p", { class: "beside" }, make("label", { for: "besidefile", class: "word" }, "Play an audio file beside these bars"), input, make("span", { class: "what" }, " or drop one here; it stays in this browser."));
    const level = make("input", { type: "range", id: "besidelevel", min: "0", max: "1", step: "0.05", value: String(held.level), "aria-label": `Loudness of ${held.name}`, oninput: () => { held.level = Number(level.value); for (const one of this.nodes) if (one.held === held) one.gain.gain.value = held.level; } });
    return make("p", { class: "beside" }, `Beside these bars: ${held.name} `, level, " ", make("button", { type: "button", id: "besideaway", class: "word", onclick: () => { this.files.delete(section.index); this.cut(0); this.store.set({ besides: (this.store.now.besides ?? 0) + 1 }); } }, "take it away"));
  }

  cut() {
    for (const { node } of this.nodes) node.stop();
    this.nodes = [];
    this.sounding = null;
  }

  /** Begins the file of the section that sounds, where its bars are by now. */
  place() {
    const { place, playing, rate, view } = this.store.now;
    if (!playing || !place || place.counting || !this.player.stream) { if (this.nodes.length) this.cut(); return; }
    const held = this.files.get(place.section);
    if (!held) { if (this.nodes.length) this.cut(); return; }
    const out = Math.max(0, this.player.heard);
    const song = this.player.stream.at(out).song;
    const within = song - view.bars[view.sections[place.section].bar - 1].time;
    if (this.sounding && this.sounding.held === held && Math.abs(within - this.sounding.within - (out - this.sounding.out) * rate) < 0.05) return;
    this.cut();
    const buffer = this.atRate(held, rate);
    const from = Math.max(0, within / rate);
    if (from >= buffer.duration) return;
    const { context, zero } = this.player;
    const node = context.createBufferSource();
    const gain = context.createGain();
    gain.gain.value = held.level;
    node.buffer = buffer;
    node.connect(gain).connect(this.player.over.input);
    const at = Math.max(context.currentTime, zero + out) + 0.02;
    node.start(at, from + (at - zero - out));
    this.nodes.push({ node, gain, held });
    this.sounding = { held, within, out };
  }

  /** The file at another speed, at the pitch it has. */
  atRate(held, rate) {
    if (!held.atRate.has(rate)) {
      const { context } = this.player;
      const channels = Array.from({ length: held.buffer.numberOfChannels }, (_, i) => stretched(held.buffer.getChannelData(i), rate, held.buffer.sampleRate));
      const buffer = context.createBuffer(channels.length, Math.max(1, channels[0].length), held.buffer.sampleRate);
      channels.forEach((channel, i) => buffer.copyToChannel(channel, i));
      held.atRate.set(rate, buffer);
    }
    return held.atRate.get(rate);
  }
}

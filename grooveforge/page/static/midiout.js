// The same strokes to the user's own sampler, on the page's clock, where the browser has Web MIDI.

import { DRUM } from "./stream.js";
import { make } from "./words.js";

const AHEAD = 0.15; // seconds that messages are handed over before they sound: a cut can take back the rest
const LATEST = 0.25; // seconds after which a stroke that was held up is left out
const LENGTH = 60; // ms from note on to note off
const CHANNEL = 9; // 10 as players count
const EVERY = 10; // ms
const DRIFT = 0.0005; // ms a look

export class MidiOut {
  constructor(store, player) {
    this.store = store;
    this.player = player;
    this.port = null;
    this.waiting = [];
    this.element = make("span", { class: "bit" });
    if (!navigator.requestMIDIAccess) return;
    this.button = make("button", { type: "button", id: "midi", class: "word", onclick: () => this.ask() }, "send it to a sampler by MIDI");
    this.element.append("or ", this.button);
    player.followers.push((events, cut) => this.follow(events, cut));
  }

  async ask() {
    try {
      this.access = await navigator.requestMIDIAccess();
    } catch {
      this.element.replaceChildren("The browser gave no MIDI ports.");
      return;
    }
    this.access.onstatechange = () => this.ports();
    await this.player.ready(); // the clocks are compared from now on
    this.timer ??= setInterval(() => this.send(), EVERY);
    this.ports();
    document.getElementById("midiport")?.focus();
  }

  ports() {
    const outputs = [...this.access.outputs.values()];
    const list = make("select", { id: "midiport", "aria-label": "MIDI port", onchange: () => { this.port = outputs.find((one) => one.id === list.value) ?? null; } },
      make("option", { value: "" }, outputs.length ? "to no MIDI port" : "no MIDI port found"), ...outputs.map((output) => make("option", { value: output.id, selected: output === this.port }, `to ${output.name}`)));
    this.element.replaceChildren("and send it ", list);
  }

  follow(events, cut) {
    if (cut !== null) this.waiting = this.waiting.filter((event) => event.at < cut - 1e-9);
    if (cut === 0) this.waiting = [];
    this.waiting.push(...events.filter((event) => event.kind === DRUM));
    this.timer ??= setInterval(() => this.send(), EVERY);
  }

  /** Lays the browser's clock beside the audio clock: `offset` is the one less the other, in ms.
   *
   * The audio clock moves in steps of a block, so it is late by up to one: the earliest of many looks is the truest,
   * and is let go slowly, since the two clocks may drift.
   */
  look() {
    const { context } = this.player;
    const look = performance.now() - context.currentTime * 1000;
    if (this.looked !== context) this.offset = Infinity;
    this.looked = context;
    this.offset = Math.min(look, this.offset + DRIFT);
  }

  /** Hands over what is due soon, with its time on the browser's clock. */
  send() {
    const { player } = this;
    if (player.context) this.look();
    if (!player.stream || !this.port) { this.waiting = player.stream ? this.waiting.filter((event) => event.at > player.now) : []; return; }
    const now = player.now;
    const notes = this.store.now.view.notes ?? {};
    const zero = this.offset + (player.zero + (player.context.outputLatency || 0)) * 1000; // output second 0, as it is heard
    const due = this.waiting.filter((event) => event.at < now + AHEAD);
    this.waiting = this.waiting.filter((event) => event.at >= now + AHEAD);
    for (const event of due) {
      const note = notes[event.surface];
      if (note === undefined || event.at < now - LATEST) continue;
      const when = zero + event.at * 1000;
      this.port.send([0x90 | CHANNEL, note, event.velocity], when);
      this.port.send([0x80 | CHANNEL, note, 0], when + LENGTH);
    }
  }
}

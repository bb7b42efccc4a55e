// Plays a stream on the audio clock: about a second ahead, window by window, so that a choice can still be heard at the next bar line.

import { makeBank } from "./bank.js";
import { ceiling, firstSound, mix } from "./mixer.js";
import { CLICK, DRUM, RIFF, Stream, barIn } from "./stream.js";

const RATE = 44100; // samples a second, as in the WAV; known before the browser gives its audio out
const WINDOW = 0.2; // seconds mixed at once
const AHEAD = 1.0; // seconds mixed before they sound
const AHEAD_HIDDEN = 2.5; // a page out of sight is woken once a second
const WAKE = 50; // ms
const SOONEST = 0.06; // seconds from now that a change needs to be ready
const LONGEST_RING = 4; // seconds that a stroke may be remembered for its tail
const BUSES = [DRUM, CLICK, RIFF];
const VELOCITIES = 128;
const LOUD = 110; // the velocity of clicks and riff tones
const SLICE = 8; // ms of making voices at a time
const later = globalThis.requestIdleCallback ?? ((work) => setTimeout(work, 20));

export class Player {
  constructor(store) {
    this.store = store;
    this.context = null;
    this.rate = RATE;
    this.bank = makeBank(store.now.tables.voices, RATE);
    this.turns = {}; // surface code -> how many strokes of it have sounded
    this.first = null; // how soft the first sound is
    this.nodes = [];
    this.taps = []; // listeners (kind, left, right, first sample) to what was mixed
    this.frames = []; // listeners (bar, share of it) to where the sound is, every frame
    this.followers = []; // listeners (events, output second 0 on the audio clock, cut) beside the sound: MIDI, files
    store.watch(["view"], () => this.atBarLine());
    store.watch(["silent", "click", "riff", "rate", "loop"], () => this.soon());
    store.watch(["volume", "riffLevel"], () => this.levels());
    document.addEventListener("visibilitychange", () => this.fill());
  }

  ways() {
    const { view, rate, loop, silent, click, riff } = this.store.now;
    return { view, rate, loop, silent: new Set(silent), click, riff };
  }

  levels() {
    if (!this.context) return;
    const { volume, riffLevel } = this.store.now;
    const now = this.context.currentTime;
    this.master.gain.setTargetAtTime(volume * volume, now, 0.01);
    this.gains[RIFF].gain.setTargetAtTime(riffLevel * riffLevel, now, 0.01);
  }

  async ready() {
    if (!this.context) {
      this.context = new AudioContext({ latencyHint: "interactive", sampleRate: RATE });
      this.master = this.context.createGain();
      this.master.connect(this.context.destination);
      this.over = ceiling(this.context, this.bank.rules); // one for all that sounds
      this.over.output.connect(this.master);
      this.gains = Object.fromEntries(BUSES.map((kind) => [kind, this.context.createGain()]));
      for (const kind of BUSES) this.gains[kind].connect(this.over.input);
      this.levels();
    }
    if (this.context.state !== "running") await this.context.resume();
  }

  /** Starts at a bar of the song. */
  async play(bar = this.store.now.bar) {
    await this.ready();
    this.halt();
    const begun = () => new Stream(this.ways(), Math.min(bar, this.store.now.view.bars.length), this.store.now.countIn);
    const stream = begun();
    for (const event of stream.until(AHEAD)) this.voice(event); // made before the clock is read, so that nothing begins late
    this.first = this.opening(begun());
    this.zero = Math.ceil((this.context.currentTime + 0.1) * this.rate) / this.rate; // the audio clock at output second 0
    this.mixed = 0; // samples mixed so far
    this.stream = stream;
    this.store.set({ playing: true, place: this.placeAt(0) });
    this.timer = setInterval(() => this.fill(), WAKE);
    this.fill();
    this.watchPlace();
  }

  /** How soft the first sound of a stream is; it is read no further than it takes to know. */
  opening(stream) {
    const all = stream.whole;
    for (let reach = AHEAD; ; reach *= 4) {
      stream.until(Math.min(reach, all));
      const first = firstSound(this.columns(stream.read), this.bank);
      if (first.settled || reach >= all) return first;
    }
  }

  stop() {
    this.halt();
    this.store.set({ playing: false, place: null });
  }

  halt() {
    clearInterval(this.timer);
    cancelAnimationFrame(this.frame);
    this.timer = 0;
    for (const { node } of this.nodes) { node.onended = null; node.stop(); node.disconnect(); }
    this.nodes = [];
    if (this.stream) this.follow([], 0);
    this.stream = null;
  }

  toggle() {
    return this.store.now.playing ? this.stop() : this.play();
  }

  /** The output second that is being heard. */
  get heard() {
    return this.context.currentTime - this.zero - (this.context.outputLatency || 0);
  }

  fill() {
    if (!this.stream) return;
    const ahead = document.hidden ? AHEAD_HIDDEN : AHEAD;
    const wanted = (this.context.currentTime - this.zero + ahead) * this.rate;
    const last = this.stream.end * this.rate + LONGEST_RING * this.rate;
    if (this.context.currentTime - this.zero > this.stream.end + 1.5) { this.stop(); return; }
    while (this.mixed < Math.min(wanted, last)) this.window(Math.round(WINDOW * this.rate));
    this.stream.forget(this.context.currentTime - this.zero - LONGEST_RING - 1);
  }

  /** Mixes one window of every bus that has something to say and hands it to the audio clock. */
  window(length) {
    const start = this.mixed;
    this.stream.until((start + length) / this.rate);
    const fresh = this.stream.read.filter((event) => !event.given && event.at * this.rate < start + length);
    for (const event of fresh) event.given = true;
    this.follow(fresh, null);
    for (const kind of BUSES) {
      const events = this.stream.read.filter((event) => event.kind === kind);
      if (!events.length) continue;
      const strokes = { ...this.columns(events), variant: Uint8Array.from(events, (event) => this.variant(event)) };
      const [left, right] = mix(strokes, this.bank, start, length);
      for (const tap of this.taps) tap(kind, left, right, start);
      const buffer = this.context.createBuffer(2, length, this.rate);
      buffer.copyToChannel(left, 0);
      buffer.copyToChannel(right, 1);
      const node = this.context.createBufferSource();
      node.buffer = buffer;
      node.connect(this.gains[kind]);
      const at = this.zero + start / this.rate;
      node.start(at);
      const held = { node, at, end: at + length / this.rate };
      node.onended = () => { this.nodes = this.nodes.filter((one) => one !== held); };
      this.nodes.push(held);
    }
    this.mixed = start + length;
  }

  columns(events) {
    const { view, riffLevel } = this.store.now;
    return {
      level: view.level ?? 1,
      first: this.first,
      at: Float64Array.from(events, (event) => Math.round(event.at * this.rate)),
      until: Float64Array.from(events, (event) => (event.until === undefined ? Infinity : Math.round(event.until * this.rate))),
      surface: Int16Array.from(events, (event) => this.code(event)),
      velocity: Uint8Array.from(events, (event) => event.velocity ?? LOUD),
      share: Float64Array.from(events, (event) => (event.kind === RIFF ? riffLevel * riffLevel : 1)),
    };
  }

  /** The code of what sounds: a surface, a click or a tone of the riff. */
  code(event) {
    if (event.kind === DRUM) return event.surface;
    return event.kind === CLICK ? this.bank.clickCode(event.strong) : this.bank.riffCode(event.muted);
  }

  voice(event) {
    return this.bank(this.code(event), event.velocity ?? LOUD, this.variant(event));
  }

  /** Makes the voices of the song one by one while nothing else is to do, those that sound first before the others. */
  warm() {
    const { surface, velocity } = this.store.now.view.events;
    const wanted = [...new Set(Array.from(surface, (code, i) => code * VELOCITIES + velocity[i]))];
    const rest = wanted.flatMap((key) => Array.from({ length: this.bank.variants }, (_, variant) => [Math.floor(key / VELOCITIES), key % VELOCITIES, variant]));
    const next = () => {
      const began = performance.now();
      while (rest.length && performance.now() - began < SLICE) this.bank(...rest.shift());
      if (rest.length) later(next);
    };
    later(next);
  }

  /** Which voice of its surface a stroke takes: they take turns. */
  variant(event) {
    if (event.variant === undefined) {
      const code = this.code(event);
      this.turns[code] = (this.turns[code] ?? -1) + 1;
      event.variant = this.turns[code] % this.bank.variants;
    }
    return event.variant;
  }

  /** Another song is in view: it sounds from the next bar line on, without a stop. */
  atBarLine() {
    if (!this.stream) return;
    const before = this.stream.at(this.now + SOONEST).view;
    const line = this.stream.nextBar(this.now + SOONEST);
    if (line.bar === null) return;
    this.cut(line.out, barIn(before, this.store.now.view, line.bar));
    this.changed = line;
  }

  /** Other ways of playing: as soon as can be. */
  soon() {
    if (!this.stream) return;
    const at = this.now + SOONEST;
    const was = this.stream.at(at).view;
    if (was === this.store.now.view) this.cut(at, null);
    else this.atBarLine();
  }

  get now() {
    return this.context.currentTime - this.zero;
  }

  cut(out, bar) {
    const sample = Math.round(out * this.rate);
    this.stream.cut(sample / this.rate, this.ways(), bar);
    const at = this.zero + sample / this.rate;
    for (const held of [...this.nodes]) {
      if (held.at >= at - 1e-9) { held.node.onended = null; held.node.stop(); held.node.disconnect(); this.nodes = this.nodes.filter((one) => one !== held); }
      else if (held.end > at) held.node.stop(at);
    }
    this.follow([], sample / this.rate);
    this.mixed = Math.min(this.mixed, sample);
    this.fill();
  }

  follow(events, cut) {
    for (const follower of this.followers) follower(events, cut);
  }

  placeAt(out) {
    const { bar, counting, song, view } = this.stream.at(out);
    return { bar, counting, song, section: view.bars[bar - 1].section };
  }

  /** Tells the page which bar sounds. */
  watchPlace() {
    const look = () => {
      if (!this.stream) return;
      const place = this.placeAt(Math.max(0, this.heard));
      const before = this.store.now.place;
      if (!before || before.bar !== place.bar || before.counting !== place.counting) this.store.set({ place });
      const row = this.store.now.view.bars[place.bar - 1];
      if (row) for (const frame of this.frames) frame(place.bar, place.counting ? 0 : Math.min(1, Math.max(0, (place.song - row.time) / row.seconds)));
      this.frame = requestAnimationFrame(look);
    };
    this.frame = requestAnimationFrame(look);
  }
}

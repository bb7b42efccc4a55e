// From a song to what sounds when: strokes, clicks and riff tones on the output's clock. No sound is made here.
//
// The output is a row of legs. A leg plays the song from one place on at one rate; a loop, a change at a bar line or
// another speed begins a new leg. What has been read stays as it was heard; `cut` takes back what lies ahead.

import { barAt, firstFrom } from "./bars.js";

export const CLICK = "click";
export const RIFF = "riff";
export const DRUM = "drum";
const SAME_STROKE = 0.025; // seconds; a stroke pulled before the bar line is not struck again behind it

const endOf = (bar) => bar.time + bar.seconds;

/** First and last bar of the stretch that a loop repeats: "section", "song", or nothing. */
export function stretch(view, loop, bar) {
  const { bars, sections } = view;
  if (loop === "section") {
    const section = sections[bars[Math.min(bar, bars.length) - 1].section];
    return [bars[section.bar - 1].time, endOf(bars[section.bar + section.bars - 2])];
  }
  return [0, endOf(bars[bars.length - 1])];
}

export class Stream {
  /**
   * `ways`: {view, rate, loop: "no" | "section" | "song", silent: Set of lines, click, riff}; `bar` where it starts,
   * `countIn` bars of clicks before it, in that bar's metre and tempo.
   */
  constructor(ways, bar, countIn = 0) {
    this.ways = ways;
    this.read = []; // {at, kind, surface, velocity, line, strong, muted}
    this.legs = [];
    const first = ways.view.bars[bar - 1];
    let out = 0;
    if (countIn) {
      const length = (countIn * first.seconds) / ways.rate;
      this.legs.push({ out, end: length, count: countIn, bar: first, rate: ways.rate, ways, done: 0 });
      out = length;
    }
    this.begin(out, first.time);
  }

  /** A new leg from a second of the song on; without a loop it runs to the song's end. */
  begin(out, song) {
    const { view, rate, loop } = this.ways;
    const [, last] = stretch(view, loop, barAt(view, song).bar);
    this.legs.push({ out, song, end: out + Math.max(0, last - song) / rate, rate, ways: this.ways, done: out });
  }

  /** When all has been played; Infinity under a loop. */
  get end() {
    return this.ways.loop === "no" ? this.legs[this.legs.length - 1].end : Infinity;
  }

  /** The second by which every bar has come once, under a loop too. */
  get whole() {
    if (this.ways.loop === "no") return this.end;
    const leg = this.legs[this.legs.length - 1];
    const [from, to] = stretch(this.ways.view, this.ways.loop, barAt(this.ways.view, leg.song).bar);
    return leg.out + (to - from) / leg.rate;
  }

  leg(out) {
    for (let i = this.legs.length - 1; i > 0; i -= 1) if (out >= this.legs[i].out - 1e-9) return this.legs[i];
    return this.legs[0];
  }

  /** What sounds at an output second: {bar, counting, song, view, over}. */
  at(out) {
    const leg = this.leg(out);
    if (leg.count) return { bar: leg.bar.bar, counting: true, view: leg.ways.view, song: leg.bar.time };
    const song = leg.song + (Math.min(out, leg.end) - leg.out) * leg.rate;
    const bar = barAt(leg.ways.view, song);
    return { bar: bar.bar, counting: false, view: leg.ways.view, song, over: out >= this.end };
  }

  /** Reads on until an output second, and gives the new events, rising. */
  until(out) {
    const fresh = [];
    for (let guard = 0; guard < 10_000; guard += 1) {
      const leg = this.unread();
      const to = Math.min(out, leg.end);
      if (to > leg.done) {
        if (leg.count) counted(leg, to, fresh);
        else this.strokes(leg, to, fresh);
        leg.done = to;
      }
      if (leg.done < leg.end - 1e-9) break;
      if (leg === this.legs[this.legs.length - 1]) {
        if (this.ways.loop === "no" || out <= leg.end) break;
        this.begin(leg.end, stretch(this.ways.view, this.ways.loop, this.at(leg.end - 1e-4).bar)[0]);
      }
    }
    fresh.sort((a, b) => a.at - b.at);
    for (const event of fresh) this.read.push(event);
    return fresh;
  }

  /** The earliest leg that is not read to its end, or the last one. */
  unread() {
    return this.legs.find((leg) => leg.done < leg.end - 1e-9) ?? this.legs[this.legs.length - 1];
  }

  strokes(leg, to, fresh) {
    const { view, silent, click, riff } = leg.ways;
    const song = (out) => leg.song + (out - leg.out) * leg.rate;
    const from = song(Math.max(leg.done, leg.out));
    const until = song(to);
    const out = (time) => leg.out + (time - leg.song) / leg.rate;
    const { time, surface, velocity, line, until: damped } = view.events;
    for (let i = firstFrom(time, from - 1e-9); i < time.length && time[i] < until - 1e-9; i += 1) {
      if (silent.has(line[i])) continue;
      const at = out(time[i]);
      if (this.struck(surface[i], at, leg)) continue;
      const event = { at, kind: DRUM, surface: surface[i], velocity: velocity[i], line: line[i] };
      if (damped?.[i] !== undefined && damped[i] !== null) event.until = out(damped[i]);
      fresh.push(event);
    }
    if (click) {
      const times = view.clickTimes ?? (view.clickTimes = view.clicks.map(([when]) => when));
      for (let i = firstFrom(times, from - 1e-9); i < times.length && times[i] < until - 1e-9; i += 1) {
        fresh.push({ at: out(times[i]), kind: CLICK, strong: Boolean(view.clicks[i][1]) });
      }
    }
    if (riff) {
      for (const section of view.sections) {
        for (const [when, strong, muted] of section.riff ?? []) {
          if (when >= from - 1e-9 && when < until - 1e-9) fresh.push({ at: out(when), kind: RIFF, strong: Boolean(strong), muted: Boolean(muted) });
        }
      }
    }
  }

  /** Whether this surface sounded just before, across the leg's start. */
  struck(surface, at, leg) {
    if (at - leg.out > SAME_STROKE) return false;
    for (let i = this.read.length - 1; i >= 0 && this.read[i].at > at - SAME_STROKE; i -= 1) {
      if (this.read[i].kind === DRUM && this.read[i].surface === surface && this.read[i].at < leg.out) return true;
    }
    return false;
  }

  /** The next bar line at or after an output second: {out, bar: the bar that begins there in the song as it is now}. */
  nextBar(out) {
    const leg = this.leg(out);
    if (leg.count) return { out: leg.end, bar: leg.bar.bar };
    const song = leg.song + (out - leg.out) * leg.rate;
    const { bars } = leg.ways.view;
    const here = barAt(leg.ways.view, Math.max(0, song - 1e-6));
    const next = here.time >= song - 1e-6 ? here : bars[here.bar];
    const line = leg.out + ((next ? next.time : endOf(here)) - leg.song) / leg.rate;
    if (line >= leg.end - 1e-6) {
      const again = this.ways.loop === "no" ? null : barAt(leg.ways.view, stretch(leg.ways.view, leg.ways.loop, here.bar)[0]);
      return { out: leg.end, bar: again?.bar ?? null };
    }
    return { out: line, bar: next.bar };
  }

  /** Takes back what lies at or behind an output second and goes on from there in other ways, at `bar` if that is told. */
  cut(out, ways, bar = null) {
    const leg = this.leg(out);
    const song = leg.count ? null : leg.song + (out - leg.out) * leg.rate;
    this.read = this.read.filter((event) => event.at < out - 1e-9);
    this.legs = this.legs.filter((one) => one === leg || one.out < out);
    this.ways = ways;
    if (leg.count && bar === null) {
      leg.done = Math.min(leg.done, out);
      leg.ways = ways;
      const follows = ways.view.bars[Math.min(leg.bar.bar, ways.view.bars.length) - 1];
      this.legs = [leg];
      this.begin(leg.end, follows.time);
      return;
    }
    leg.end = Math.min(leg.end, out);
    leg.done = Math.min(leg.done, out);
    const last = ways.view.bars[ways.view.bars.length - 1];
    const place = bar === null ? Math.min(song, endOf(last)) : (ways.view.bars[bar - 1] ?? last).time;
    this.begin(out, place);
  }

  /** Forgets what ended long ago. */
  forget(before) {
    this.read = this.read.filter((event) => event.at >= before);
    while (this.legs.length > 1 && this.legs[0].end < before) this.legs.shift();
  }
}

/** Bars of clicks in front of a bar: on the same beats as the song's own click has in it. */
function counted(leg, to, fresh) {
  const { bar, rate } = leg;
  const beats = leg.ways.view.clicks.filter(([when]) => when > bar.time - 1e-6 && when < endOf(bar) - 1e-6);
  for (let pass = 0; pass < leg.count; pass += 1) {
    for (const [when, strong] of beats) {
      const at = leg.out + (pass * bar.seconds + when - bar.time) / rate;
      if (at > leg.done - 1e-9 && at < to - 1e-9) fresh.push({ at, kind: CLICK, strong: Boolean(strong) });
    }
  }
}

/** The bar of `after` where a bar of `before` is found again: same section, same bar in it, else the nearest. */
export function barIn(before, after, bar) {
  if (bar === null) return null;
  const row = before.bars[bar - 1];
  if (!row) return 1;
  const within = row.bar - before.sections[row.section].bar;
  const section = after.sections[Math.min(row.section, after.sections.length - 1)];
  return section.bar + Math.min(within, section.bars - 1);
}

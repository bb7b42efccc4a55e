// What the page knows: the song as the server has it, what is heard, and how it is played. One value, many readers.

const KEPT = ["volume", "riffLevel", "keys", "rate", "click", "countIn"];
const SHELF = "grooveforge page";

function remembered() {
  try {
    return JSON.parse(localStorage.getItem(SHELF)) ?? {};
  } catch {
    return {};
  }
}

export class Store {
  constructor(api, { state, tables }) {
    this.api = api;
    this.readers = [];
    this.now = {
      state,
      tables,
      view: state.song, // what is drawn and heard
      chosen: null, // index of the section whose controls are open
      bar: 1, // where playing starts
      loop: "no",
      rate: 1,
      click: false,
      countIn: 0,
      silent: new Set(),
      riff: false,
      riffLevel: 0.6,
      volume: 0.7,
      keys: true, // single keys do something
      answers: null, // two answers to go back and forth between: {other, words, otherWords, kind, second}
      playing: false,
      place: null, // {bar, section} that sounds
      fault: null, // what is wrong with the text as typed
      ...remembered(),
    };
  }

  /** Lays a patch over what is known and tells every reader which keys moved. */
  set(patch) {
    const moved = Object.keys(patch).filter((key) => this.now[key] !== patch[key]);
    if (!moved.length) return;
    Object.assign(this.now, patch);
    if (moved.some((key) => KEPT.includes(key))) {
      try {
        localStorage.setItem(SHELF, JSON.stringify(Object.fromEntries(KEPT.map((key) => [key, this.now[key]]))));
      } catch {
        // A page that may keep nothing plays as well.
      }
    }
    for (const reader of this.readers) reader(this.now, new Set(moved));
  }

  /** Calls `reader(now, moved)` when one of `keys` moves, and once at the start. */
  watch(keys, reader) {
    this.readers.push((now, moved) => {
      if (keys.some((key) => moved.has(key))) reader(now, moved);
    });
    reader(this.now, new Set(keys));
  }

  /** The section that a bar lies in. */
  sectionOf(bar) {
    const row = this.now.view.bars[bar - 1];
    return row ? this.now.view.sections[row.section] : this.now.view.sections[0];
  }
}

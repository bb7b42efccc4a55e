// The controls of a section, as a sentence: feel, kick, hand, subdivision, ending; the other keys under a fold. All from the tables.

import { Answers } from "./answers.js";
import { called, capital, feelWords, make, refill, select, valueWords } from "./words.js";

const FIRST = ["feel", "kick", "timekeeper", "subdivision", "ending"];
const SAID_ELSEWHERE = new Set([...FIRST, "form", "title", "seed", "key_map", "profile", "final", "count_in", "repeat", "part"]);

/** Choices of a key: what the tables list for it. */
function choicesOf(tables, name) {
  const row = tables.keys.find((key) => key.name === name);
  const listed = { feel: tables.feels, kick: tables.kicks, subdivision: tables.subdivisions, ending: tables.endings, fill: tables.fills, arrival: tables.arrivals, spelling: tables.spellings }[name];
  const values = row?.values ?? listed;
  return Array.isArray(values) ? values : values ? [...new Set(Object.values(values).flat())] : null;
}

/** What holds where nothing is said, if that is one of the choices. */
function defaultOf(tables, name, choices) {
  const value = tables.keys.find((key) => key.name === name)?.default;
  return choices.some((choice) => choice === value) ? value : null;
}

export class Panel {
  constructor(store, actions, files) {
    this.store = store;
    this.actions = actions;
    this.files = files; // (section) -> the element that takes an audio file
    this.whole = false; // whether a choice is for the part everywhere
    this.answers = store.api ? new Answers(store, actions) : null;
  }

  /** The element for a section; in an exported file it only says what holds. */
  element(section) {
    if (!this.store.api) return this.reading(section);
    const place = make("div", { class: "panel", role: "group", "aria-label": `Controls of ${this.name(section)}` });
    this.fill(place, section);
    return place;
  }

  name(section) {
    return called(this.store.now.view, section);
  }

  fill(place, section) {
    const again = () => this.fill(place, section);
    const same = this.store.now.view.sections.filter((one) => one.part === section.part).length;
    const scope = same > 1
      ? select({ id: "scope", "aria-label": "Which sections a choice is for" }, [[false, section.repeat > 1 ? `this entry, played ${section.repeat} times` : `${this.name(section)} only`], [true, `every ${section.part} that does not say otherwise`]], this.whole, (whole) => { this.whole = whole; again(); })
      : make("span", {}, this.name(section));
    refill(
      place,
      make("p", { class: "choices" },
        bit("In ", scope, ","), " ", bit("the feel is ", this.choice(section, "feel", feelWords), ";"), " ",
        bit("the kick: ", this.choice(section, "kick", kickWords), ";"), " ", this.hand(section), " ",
        bit("with subdivision ", this.choice(section, "subdivision"), ";"), " ", bit("an ending of its own: ", this.choice(section, "ending"), ".")),
      this.ownKeys(section),
      this.further(section),
      this.answers.element(section),
      this.files(section),
    );
  }

  target(section) {
    return this.whole ? { part: section.part } : { section: section.index };
  }

  put(section, key, value) {
    const where = this.whole ? `every ${section.part}` : this.name(section);
    return this.actions.change(this.target(section), key, value, value === null ? `${capital(where)}: ${key} as its part has it` : `${capital(where)}: ${key.replace("_", " ")} ${valueWords(value)}`);
  }

  choice(section, key, words = valueWords) {
    const choices = choicesOf(this.store.now.tables, key) ?? [];
    const now = section.settings[key] ?? (key === "feel" ? section.feel : defaultOf(this.store.now.tables, key, choices));
    const listed = choices.map((value) => [value, words(value)]);
    if (now === null || now === undefined) listed.unshift([null, "not set"]);
    return select({ id: `set-${key}`, "aria-label": capital(key) }, listed, now ?? null, (value) => this.put(section, key, value));
  }

  /** Where the hand stands, in order: one surface or several, sharing the section or with bars of their own. */
  hand(section) {
    const surfaces = this.store.now.tables.surfaces_hand;
    const value = section.settings.timekeeper;
    const moves = (Array.isArray(value) ? value : value ? [value] : section.hand.filter((move) => move.surface).map((move) => move.surface)).map((move) => (typeof move === "string" ? { on: move } : { ...move }));
    const given = () => (moves.length === 1 && !moves[0].bars ? moves[0].on : moves.some((move) => move.bars) ? moves : moves.map((move) => move.on));
    const parts = [make("span", {}, "the hand is on ")];
    moves.forEach((move, index) => {
      if (index) parts.push(make("span", {}, " then on "));
      const choices = index ? [[null, "(no other)"], ...surfaces.map((name) => [name, name])] : surfaces.map((name) => [name, name]);
      parts.push(select({ id: `hand-${index}`, "aria-label": `Surface ${index + 1} of the hand` }, choices, move.on, (on) => {
        if (on === null) moves.splice(index, 1);
        else move.on = on;
        if (moves.length === 1) delete moves[0].bars;
        this.put(section, "timekeeper", given());
      }));
      if (move.bars && index < moves.length) {
        parts.push(make("span", {}, " for "), make("input", { type: "number", id: `handbars-${index}`, min: "1", max: String(section.bars), value: String(move.bars), "aria-label": `Bars on ${move.on}`,
          onchange: (event) => { move.bars = Math.max(1, Math.round(Number(event.target.value)) || 1); this.put(section, "timekeeper", given()); } }), make("span", {}, " bars"));
      }
    });
    if (moves.length < 4) {
      parts.push(make("span", {}, ", "), make("button", { type: "button", id: "hand-more", class: "word", onclick: () => {
        const next = surfaces.find((name) => name !== moves[moves.length - 1]?.on);
        moves.push(moves.some((move) => move.bars) ? { bars: 1, on: next } : { on: next });
        this.put(section, "timekeeper", given());
      } }, "then elsewhere"));
    }
    return make("span", {}, ...parts, make("span", {}, ","));
  }

  /** What this section itself says, each to be taken back. */
  ownKeys(section) {
    const own = (Array.isArray(section.own) ? section.own : Object.keys(section.own ?? {})).filter((key) => !["part", "name", "repeat"].includes(key));
    if (!own.length || this.whole) return null;
    return make("p", { class: "own" }, "Only here: ", ...own.flatMap((key, index) => [index ? ", " : "", `${key.replace("_", " ")} ${valueWords(section.settings[key])} `,
      make("button", { type: "button", id: `back-${key}`, class: "word", "aria-label": `take back ${key} of ${this.name(section)}`, onclick: () => this.put(section, key, null) }, "take back")]));
  }

  further(section) {
    const rows = this.store.now.tables.keys.filter((key) => !SAID_ELSEWHERE.has(key.name) && (key.where ?? "").includes(this.whole ? "part" : "entry"));
    const fold = make("details", { class: "further", id: "further" }, make("summary", {}, "Further keys"));
    fold.append(make("div", { class: "keys" }, ...rows.map((row) => this.keyRow(section, row))));
    return fold;
  }

  keyRow(section, row) {
    const value = section.settings[row.name] ?? null;
    const id = `key-${row.name}`;
    const choices = choicesOf(this.store.now.tables, row.name);
    const field = choices
      ? select({ id }, options(choices, row), value ?? defaultOf(this.store.now.tables, row.name, choices), (chosen) => this.put(section, row.name, chosen))
      : make("input", { id, type: "text", value: value === null ? "" : written(value), placeholder: row.default === null || row.default === undefined ? "" : valueWords(row.default),
        autocomplete: "off", spellcheck: "false", onchange: (event) => this.put(section, row.name, read(event.target.value)) });
    return make("div", { class: "key" }, make("label", { for: id }, row.name.replaceAll("_", " ")), field, make("span", { class: "what" }, row.what ?? ""));
  }

  reading(section) {
    const rows = Object.entries(section.settings).filter(([, value]) => value !== null && value !== undefined);
    return make("div", { class: "panel" }, make("p", {}, "This file plays and shows the song; it changes nothing. What holds here:"),
      make("ul", { class: "settings" }, ...rows.map(([key, value]) => make("li", {}, `${key.replaceAll("_", " ")}: ${valueWords(value)}`))), this.files(section));
  }
}

/** Choices with their words; where none of them holds by itself, what does stands first. */
function options(choices, row) {
  const listed = choices.map((choice) => [choice, valueWords(choice)]);
  return choices.includes(row.default) ? listed : [[null, valueWords(row.default)], ...listed];
}

const bit = (...children) => make("span", { class: "bit" }, ...children);

/** The kick's ways, as a sentence goes on. */
const KICK = { adapt: "adapts to the feel", keep: "stays as it is", figure: "the feel's figure alone", follow: "follows the riff" };
const kickWords = (value) => KICK[value] ?? valueWords(value);

/** A value as it is typed: text, number, or what JSON says. */
const written = (value) => (typeof value === "string" ? value : JSON.stringify(value));

function read(text) {
  const typed = text.trim();
  if (!typed) return null;
  if (/^[[{]|^-?\d+(\.\d+)?$|^(true|false)$/.test(typed)) {
    try {
      return JSON.parse(typed);
    } catch {
      return typed;
    }
  }
  return typed;
}

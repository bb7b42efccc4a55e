// Options for a section and plans for the song: asked for, heard at the bar line, and taken.

import { called, capital, make, plain, refill } from "./words.js";

const AMOUNTS = ["small", "medium", "large"];

export class Answers {
  constructor(store, actions) {
    this.store = store;
    this.actions = actions;
    this.asked = null; // {section, revision, amount, options}
    this.amount = "medium";
  }

  element(section) {
    const place = make("div", { class: "answers" });
    this.fill(place, section);
    return place;
  }

  fill(place, section) {
    const here = this.asked && this.asked.section === section.index ? this.asked : null;
    const ask = make("button", { type: "button", id: "ask-options", class: "word", onclick: async () => {
      ask.textContent = "thinking …";
      ask.disabled = true;
      const answer = await this.actions.asked(() => this.store.api.options(section.index, this.amount));
      this.asked = answer ? { section: section.index, options: answer.options } : null;
      this.fill(place, section);
      document.getElementById(answer?.options.length ? "hear-1" : "ask-options")?.focus();
    } }, here ? "other options" : "show options");
    const amount = make("select", { id: "amount", "aria-label": "How much may change", onchange: () => { this.amount = amount.value; } }, ...AMOUNTS.map((name) => make("option", { value: name, selected: name === this.amount }, name)));
    refill(place,
      make("p", {}, `What else could ${called(this.store.now.view, section)} do? Of `, amount, " size: ", ask),
      here && !here.options.length ? make("p", { class: "none" }, "Nothing of that size fits here.") : null,
      here ? make("ol", { class: "offers" }, ...here.options.map((option) => this.offer(section, option))) : null);
  }

  offer(section, option) {
    const words = option.in_words;
    const take = () => this.actions.take(() => this.store.api.take(section.index, option.changes), `${capital(called(this.store.now.view, section))}: ${words}`);
    return make("li", {}, make("span", { class: "words" }, words, " ",
      make("span", { class: "number" }, `${Math.round(option.distance * 100)} % other${option.playable === false ? ", not playable as it stands" : ""}`)), make("span", { class: "bit" },
      make("button", { type: "button", class: "word", id: `hear-${option.rank}`, "aria-label": `Hear: ${words}`, onclick: () => this.actions.hear({ section: section.index, changes: option.changes }, words, take, section.bar) }, "hear"), " ",
      make("button", { type: "button", class: "word", id: `take-${option.rank}`, "aria-label": `Take: ${words}`, onclick: take }, "take")));
  }
}

/** Answers for the whole song at once. */
export class Plans {
  constructor(store, actions, place) {
    this.store = store;
    this.actions = actions;
    this.place = place;
    this.plans = null;
    this.fill();
  }

  fill() {
    const ask = make("button", { type: "button", id: "ask-plans", class: "word", onclick: async () => {
      ask.textContent = "thinking …";
      ask.disabled = true;
      const answer = await this.actions.asked(() => this.store.api.plan());
      this.plans = answer?.plans ?? null;
      this.fill();
      document.getElementById(this.plans?.length ? "hear-plan-1" : "ask-plans")?.focus();
    } }, this.plans ? "plan again" : "plan the whole song");
    refill(this.place, make("p", {}, "Or let every return be planned at once: ", ask),
      this.plans ? make("ol", { class: "offers" }, ...this.plans.map((plan, index) => this.offer(plan, index + 1))) : null);
  }

  offer(plan, rank) {
    const words = plan.in_words;
    const take = () => this.actions.take(() => this.store.api.takePlan(plan.sections), `Plan ${rank} taken`);
    return make("li", {}, make("span", { class: "words" }, words, " ", curve(plan.energy)), make("span", { class: "bit" },
      make("button", { type: "button", class: "word", id: `hear-plan-${rank}`, "aria-label": `Hear plan ${rank}`, onclick: () => this.actions.hear({ sections: plan.sections }, `plan ${rank}`, take) }, "hear"), " ",
      make("button", { type: "button", class: "word", id: `take-plan-${rank}`, "aria-label": `Take plan ${rank}`, onclick: take }, "take")));
  }
}

/** A small energy line. */
function curve(values) {
  const numbers = (values ?? []).map(Number).filter(Number.isFinite);
  if (numbers.length < 2) return "";
  const top = Math.max(...numbers) || 1;
  const span = make("span", { class: "curve", role: "img", "aria-label": `energy from ${plain(numbers[0])} to ${plain(numbers[numbers.length - 1])}` });
  const points = numbers.map((value, i) => `${Math.round((i / (numbers.length - 1)) * 100)},${Math.round(18 - (value / top) * 16)}`).join(" ");
  span.innerHTML = `<svg viewBox="0 0 100 20" width="100" height="20" aria-hidden="true"><polyline points="${points}"/></svg>`;
  return span;
}

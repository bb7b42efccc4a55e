// Single keys for the whole page, and the list of them in words. They rest while one types, and can be switched off.

import { make } from "./words.js";

export function keysOf({ store, player, actions, sentence, song }) {
  const step = (by) => {
    const { chosen, view, bar } = store.now;
    const here = chosen ?? view.bars[bar - 1].section;
    const next = Math.min(view.sections.length - 1, Math.max(0, here + by));
    store.set({ bar: view.sections[next].bar, ...(chosen === null ? {} : { chosen: next }) });
    document.getElementById(`section-${next}`)?.scrollIntoView({ block: "nearest" });
    document.getElementById(`change-${next}`)?.focus({ preventScroll: true });
  };
  const bar = (by) => store.set({ bar: Math.min(store.now.view.bars.length, Math.max(1, store.now.bar + by)) });
  const faster = (by) => store.set({ rate: Math.min(1.2, Math.max(0.4, Math.round((store.now.rate + by) * 10) / 10)) });
  const loops = ["no", "section", "song"];
  const editing = Boolean(store.api);
  return [
    [" ", "space", "play or stop", () => player.toggle()],
    ["j", "j", "next section", () => step(1)],
    ["k", "k", "section before", () => step(-1)],
    ["ArrowRight", "→", "start a bar later", () => bar(1)],
    ["ArrowLeft", "←", "start a bar earlier", () => bar(-1)],
    ["e", "e", "change the section where playing starts", () => { const { section } = store.now.view.bars[store.now.bar - 1]; song.choose(section); document.getElementById("scope")?.focus(); document.getElementById("set-feel")?.focus(); }],
    editing && ["x", "x", "back and forth between two answers", () => actions.flip()],
    ["l", "l", "loop nothing, the section, the song", () => store.set({ loop: loops[(loops.indexOf(store.now.loop) + 1) % loops.length] })],
    ["c", "c", "click on or off", () => store.set({ click: !store.now.click })],
    ["-", "-", "slower", () => faster(-0.1)],
    ["+", "+", "faster", () => faster(0.1)],
    ["1", "1", "hand heard or silent", () => sentence.silence(0)],
    ["2", "2", "snare heard or silent", () => sentence.silence(1)],
    ["3", "3", "kick heard or silent", () => sentence.silence(2)],
    ["4", "4", "the rest heard or silent", () => sentence.silence(3)],
    ["r", "r", "riff heard or silent", () => store.set({ riff: !store.now.riff })],
    editing && ["z", "z", "undo", () => actions.undo()],
    editing && ["y", "y", "redo", () => actions.redo()],
    editing && ["s", "s", "save", () => actions.save()],
    ["?", "?", "this list", () => { const fold = document.getElementById("keys"); fold.open = true; fold.scrollIntoView({ block: "nearest" }); fold.querySelector("summary").focus(); }],
  ].filter(Boolean);
}

const TYPING = "input:not([type=range]):not([type=checkbox]), textarea, select";
const PRESSED = "button, a, summary, label";

/** Listens; space stays with the button that has the focus, arrows with the control. */
export function listen(store, keys) {
  document.addEventListener("keydown", (event) => {
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "s" && store.api) {
      event.preventDefault();
      keys.find(([key]) => key === "s")[3]();
      return;
    }
    if (!store.now.keys || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const target = event.target instanceof Element ? event.target : document.body;
    if (target.matches(TYPING)) return;
    if (event.key === " " && target.matches(PRESSED)) return;
    if (event.key.startsWith("Arrow") && target.matches("input")) return;
    const found = keys.find(([key]) => key === event.key) ?? (event.key === "=" ? keys.find(([key]) => key === "+") : null);
    if (!found) return;
    event.preventDefault();
    found[3](event);
  });
}

/** The list, with its switch. */
export function keyList(store, keys) {
  const box = make("input", { type: "checkbox", id: "singlekeys", checked: store.now.keys, onchange: () => store.set({ keys: box.checked }) });
  return make("details", { id: "keys", class: "keylist" }, make("summary", {}, "Keys"),
    make("p", {}, box, make("label", { for: "singlekeys" }, " single keys do this while no text is typed")),
    make("dl", {}, ...keys.map(([, sign, words]) => make("div", {}, make("dt", {}, make("kbd", {}, sign)), make("dd", {}, words)))));
}

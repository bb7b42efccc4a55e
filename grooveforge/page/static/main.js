// The page put together.

import { Actions } from "./actions.js";
import { Plans } from "./answers.js";
import { opening, server } from "./api.js";
import { Beside } from "./beside.js";
import { Edits } from "./edits.js";
import { Glance } from "./glance.js";
import { keyList, keysOf, listen } from "./keys.js";
import { MidiOut } from "./midiout.js";
import { Panel } from "./panel.js";
import { Player } from "./player.js";
import { Sentence } from "./sentence.js";
import { SheetView } from "./sheet.js";
import { SongView } from "./song.js";
import { Store } from "./store.js";
import { clock, counted, make, plain } from "./words.js";

const at = (id) => document.getElementById(id);

function say(words) {
  const place = at("said");
  place.textContent = "";
  setTimeout(() => { place.textContent = words; }, 50);
}

function head(store) {
  store.watch(["state", "view"], ({ state, view }) => {
    document.title = `${state.title}${state.saved ? "" : " (not saved)"} - GrooveForge`;
    at("title").textContent = state.title;
    at("file").textContent = state.file;
    const tempi = [...new Set(view.bars.map((bar) => plain(bar.tempo)))];
    const meters = [...new Set(view.bars.map((bar) => bar.meter))];
    at("facts").textContent = [counted(view.bars.length, "bar"), clock(view.seconds), tempi.length > 1 ? `♩ = ${Math.min(...tempi.map(Number))} to ${Math.max(...tempi.map(Number))}` : `♩ = ${tempi[0]}`, meters.slice(0, 4).join(", ")].join(" · ");
  });
}

const idle = globalThis.requestIdleCallback ?? ((work) => setTimeout(work, 20));
const painted = () => new Promise((done) => { requestAnimationFrame(() => idle(done, { timeout: 300 })); setTimeout(done, 400); });

async function begin() {
  const api = server();
  const store = new Store(api, await opening(api));
  const actions = new Actions(store, say);
  const player = new Player(store);
  head(store);
  const beside = new Beside(store, player, at("song"));
  const panel = new Panel(store, actions, (section) => beside.element(section));
  const song = new SongView(store, at("song"), (section) => panel.element(section));
  song.onplay = () => player.play();
  actions.onhear = (bar) => { if (!store.now.playing) player.play(bar); };
  if (!matchMedia("(prefers-reduced-motion: reduce)").matches) player.frames.push((_, share) => song.within(share));
  store.watch(["besides"], () => song.open());
  setTimeout(() => player.warm(), 600);
  const midi = new MidiOut(store, player);
  const sentence = new Sentence(store, player, at("playing"), [midi.element]);
  new Glance(store, at("glance"));
  new Edits(store, actions, { edits: at("edits"), notices: at("notices"), between: at("between") });
  at("cautions").append(...store.now.state.cautions.map((caution) => make("li", {}, caution)));
  await painted(); // the song stands on the page before what is beside and below it
  new SheetView(store, actions, at("sheet"));
  const keys = keysOf({ store, player, actions, sentence, song });
  listen(store, keys);
  const plans = make("div", { class: "answers" });
  if (api) new Plans(store, actions, plans);
  at("foot").append(plans, keyList(store, keys));
  store.watch(["playing"], ({ playing }, moved) => { if (moved.size === 1) say(playing ? "Playing." : "Stopped."); });
  addEventListener("beforeunload", (event) => { if (api && !store.now.state.saved) event.preventDefault(); });
  globalThis.grooveforge = { store, player, actions, beside }; // for the console and the tests
}

begin().catch((error) => {
  at("song").replaceChildren(make("p", { role: "alert", class: "trouble" }, `The page could not begin: ${error.message}`));
  throw error;
});

// Undo, save, two answers, downloads; and what the user must be told: faults, changes on disk, warnings.

import { make, refill } from "./words.js";

const DOWNLOADS = [["song.mid", "MIDI"], ["sections.zip", "MIDI by section"], ["chart.html", "chart"], ["chart.musicxml", "notation"], ["song.wav", "WAV"]];
const NEWS_EVERY = 3000; // ms

export class Edits {
  constructor(store, actions, { edits, notices, between }) {
    this.store = store;
    this.actions = actions;
    this.place = edits;
    this.notices = notices;
    this.between = between; // where two answers are told, in sight while one scrolls
    store.watch(["state", "answers"], () => this.build());
    store.watch(["state", "trouble", "view", "findings"], () => this.tell());
    store.watch(["state"], () => this.findings());
    if (store.api) setInterval(() => this.news(), NEWS_EVERY);
  }

  build() {
    const { state, answers } = this.store.now;
    const { actions } = this;
    if (!this.store.api) {
      refill(this.place, make("p", {}, "One file, no server: it plays and shows the song; nothing in it leads outside."));
      return;
    }
    const button = (id, text, able, act, extra = {}) => make("button", { type: "button", id, class: "word", disabled: !able, onclick: act, ...extra }, text);
    const downloads = DOWNLOADS.flatMap(([file, words], i) => [i ? ", " : "", make("a", { href: `api/download/${file}`, download: true }, words)]);
    refill(this.place,
      make("p", { class: "take" }, make("span", {}, "Download "), ...downloads),
      make("p", { class: "history" }, button("undo", "undo", state.can_undo, () => actions.undo()), " ", button("redo", "redo", state.can_redo, () => actions.redo()), " ",
        button("save", "save", !state.saved, () => actions.save()), " ", make("span", { class: "state", id: "saved" }, state.saved ? `${state.file} is saved` : `not saved in ${state.file} yet`), " ",
        make("a", { class: "tosheet", href: "#sheet", onclick: () => { document.getElementById("sheetfold").open = true; } }, "the sheet’s text")));
    refill(this.between, answers ? this.compare(answers) : null);
  }

  /** Two answers and the way between them. */
  compare(answers) {
    const { actions } = this;
    const said = (second) => make("span", { class: answers.second === second ? "heard" : "other" }, second ? answers.words : "as it was");
    const kept = answers.kind === "hear" && answers.second
      ? [" ", make("button", { type: "button", id: "keep", class: "word", onclick: () => answers.take() }, "take it"), " ", make("button", { type: "button", id: "drop", class: "word", onclick: () => actions.drop() }, "leave it")]
      : [];
    return make("p", { class: "compare" }, "Two answers: ", said(false), " or ", said(true), ". ",
      make("button", { type: "button", id: "flip", class: "word", "aria-keyshortcuts": "x", onclick: () => actions.flip() }, answers.second ? "hear it as it was" : "hear the new one"), make("kbd", {}, "x"), ...kept);
  }

  tell() {
    const { state, trouble, view } = this.store.now;
    const lines = [];
    if (trouble) {
      lines.push(make("p", { class: "trouble", role: "alert" }, make("strong", {}, trouble.message), trouble.detail ? ` (${trouble.detail})` : "", " ",
        make("button", { type: "button", id: "trouble-seen", class: "word", onclick: () => this.store.set({ trouble: null }) }, "put away")));
    }
    if (state.on_disk_changed) {
      lines.push(make("p", { class: "trouble", role: "alert" }, make("strong", {}, `${state.file} was changed on disk by something else. `), "Nothing was overwritten. ",
        make("button", { type: "button", id: "reload", class: "word", onclick: () => this.actions.reload() }, "read it again"), " (undo brings this text back) or ",
        make("button", { type: "button", id: "overwrite", class: "word", onclick: () => this.actions.save(true) }, "write this text over it")));
    }
    if (view.findings?.length) {
      lines.push(make("p", { class: "findings" }, `No one can play this as it stands in ${view.findings.length === 1 ? "one place" : `${view.findings.length} places`}: `,
        ...view.findings.slice(0, 6).flatMap((finding, i) => [i ? ", " : "", make("a", { href: `#section-${view.bars[finding.bar - 1]?.section ?? 0}` }, `bar ${finding.bar}`)]), "."));
    }
    for (const warning of state.warnings) lines.push(make("p", { class: "warning" }, warning));
    refill(this.notices, ...lines);
  }

  /** What no one can play takes a while to find; it comes behind the answer that it belongs to. */
  async findings() {
    const { state } = this.store.now;
    if (!this.store.api || state.findings_known !== false) return;
    try {
      const { revision, findings } = await this.store.api.findings();
      if (revision !== this.store.now.state.revision) return;
      this.store.now.state.song.findings = findings;
      this.store.set({ findings });
    } catch {
      // The next answer asks again.
    }
  }

  /** Asks whether the sheet changed on disk. */
  async news() {
    if (document.hidden) return;
    try {
      const { state, trouble } = this.store.now;
      const news = await this.store.api.news(state.revision);
      if (trouble?.silent) this.store.set({ trouble: null });
      if (news.revision !== state.revision) return;
      if (news.on_disk_changed !== state.on_disk_changed || news.saved !== state.saved) this.store.set({ state: { ...state, on_disk_changed: news.on_disk_changed, saved: news.saved } });
    } catch {
      this.store.set({ trouble: this.store.now.trouble ?? { message: "The server has stopped.", detail: "the song still plays; start the command again to go on editing", silent: true } });
    }
  }
}

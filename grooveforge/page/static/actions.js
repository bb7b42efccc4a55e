// What a user does to the song: edits, going back and forth, hearing before taking. Every edit is an edit of the sheet.

import { Refusal } from "./api.js";

export class Actions {
  constructor(store, say) {
    this.store = store;
    this.api = store.api;
    this.say = say;
  }

  /** Runs an edit; the answer before it and the one after it can then be compared. */
  async edit(work, words) {
    const before = this.settled();
    const state = await this.asked(work);
    if (!state) return false;
    this.store.set({ state, view: state.song, fault: null, answers: { kind: "edit", words, other: before, second: true } });
    this.say(`${words}.${this.store.now.playing ? " You hear it from the next bar line on." : ""}`);
    return true;
  }

  /** The song as the sheet has it; what was only being heard is let go. */
  settled() {
    const { state, answers, view } = this.store.now;
    return answers?.kind === "hear" ? state.song : view;
  }

  /** An answer of the server, or null with the refusal in view. */
  async asked(work) {
    try {
      return await work();
    } catch (error) {
      this.refused(error);
      return null;
    }
  }

  refused(error) {
    if (!(error instanceof Refusal)) {
      this.store.set({ trouble: { message: "The server does not answer. Is the command still running in its terminal?", detail: String(error.message ?? error) } });
      return;
    }
    const { fault } = error;
    this.store.set({ trouble: { message: fault.message, detail: [fault.found && `found ${fault.found}`, fault.allowed && `allowed: ${fault.allowed}`, fault.hint].filter(Boolean).join("; ") } });
  }

  change(target, key, value, words) {
    return this.edit(() => this.api.change({ ...target, key, value }), words);
  }

  async undo() {
    if (this.store.now.state.can_undo) await this.step(() => this.api.undo(), "Undone", false);
  }

  async redo() {
    if (this.store.now.state.can_redo) await this.step(() => this.api.redo(), "Done again", true);
  }

  async step(work, words, second) {
    const before = this.settled();
    const state = await this.asked(work);
    if (!state) return;
    const old = this.store.now.answers;
    this.store.set({ state, view: state.song, fault: null, answers: { kind: "edit", words: old?.words ?? "the last change", other: before, second } });
    this.say(`${words}.`);
  }

  /** Back and forth between two answers: heard from the next bar line on, and the text goes along. */
  async flip() {
    const { answers, view } = this.store.now;
    if (!answers) return;
    const second = !answers.second;
    this.store.set({ view: answers.other, answers: { ...answers, other: view, second } });
    this.say(second ? `Now: ${answers.words}.` : "Now: as it was.");
    if (answers.kind !== "edit") return;
    const state = await this.asked(() => (second ? this.api.redo() : this.api.undo()));
    if (state) this.store.set({ state: { ...state, song: this.store.now.view, findings_known: true } });
  }

  /** Plays changes without keeping them, from `bar` on if nothing plays yet; `take` keeps them. */
  async hear(body, words, take, bar) {
    const before = this.settled();
    const answer = await this.asked(() => this.api.hear(body));
    if (!answer) return;
    this.store.set({ view: answer.song, answers: { kind: "hear", words, other: before, second: true, take } });
    this.onhear?.(bar);
    this.say(`${words}: not kept yet.`);
  }

  async take(work, words) {
    await this.edit(work, words);
  }

  /** Lets go of what was only heard. */
  drop() {
    const { state } = this.store.now;
    this.store.set({ view: state.song, answers: null });
  }

  async save(force = false) {
    try {
      const state = await this.api.save(force);
      this.store.set({ state: { ...state, song: this.store.now.state.song, findings_known: true }, trouble: null });
      this.say("Saved.");
    } catch (error) {
      if (error instanceof Refusal && error.status === 409) this.store.set({ state: { ...this.store.now.state, on_disk_changed: true } });
      else this.refused(error);
    }
  }

  async reload() {
    await this.edit(() => this.api.reload(), "The sheet as it stands on disk");
  }

  /** The sheet's text as typed; a fault stays beside it and the last good song goes on. */
  async text(text) {
    const before = this.settled();
    try {
      const state = await this.api.text(text);
      this.store.set({ state, view: state.song, fault: null, trouble: null, answers: { kind: "edit", words: "the text as typed", other: before, second: true } });
      return true;
    } catch (error) {
      if (error instanceof Refusal && error.status === 422) this.store.set({ fault: error.fault });
      else this.refused(error);
      return false;
    }
  }
}

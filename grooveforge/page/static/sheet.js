// The text of the song sheet beside the song: typed, checked as one pauses, its fault shown at its line.

import { make } from "./words.js";

const PAUSE = 600; // ms without a key before the text is looked at

export class SheetView {
  constructor(store, actions, place) {
    this.store = store;
    this.actions = actions;
    this.lines = make("div", { class: "lines", "aria-hidden": "true" });
    this.text = make("textarea", { id: "text", spellcheck: "false", autocapitalize: "off", autocomplete: "off", wrap: "off", "aria-label": "Text of the song sheet", "aria-describedby": "fault", readOnly: !store.api });
    this.fault = make("p", { id: "fault", class: "fault", role: "alert" });
    this.fold = make("details", { class: "sheetfold", id: "sheetfold", open: matchMedia("(min-width: 70rem)").matches },
      make("summary", {}, "The song sheet"), make("p", { class: "hint" }, store.api ? "Every choice on this page is a line in here; what you type here is heard as well." : "The text that this song was made from."),
      this.fault, make("div", { class: "editor" }, this.lines, this.text));
    place.append(this.fold);
    this.text.addEventListener("input", () => this.typed());
    this.text.addEventListener("blur", () => this.send());
    this.text.addEventListener("scroll", () => { this.scrolled = true; this.lines.scrollTop = this.text.scrollTop; });
    store.watch(["state"], () => this.show());
    store.watch(["fault"], () => this.mark());
    store.watch(["chosen"], () => this.mark(true));
  }

  get waiting() {
    return this.text.value !== this.store.now.state.text;
  }

  show() {
    const { text } = this.store.now.state;
    if (this.shown === text) return;
    // A text that is being typed is never taken away; it is sent when the typing pauses.
    if (document.activeElement === this.text && this.sent !== text && this.timer) return;
    if (this.shown === undefined) this.text.value = text; // at the start nothing is asked of a layout that does not stand yet
    else if (this.text.value !== text) {
      const { scrollTop, selectionStart } = this.text;
      this.text.value = text;
      this.text.setSelectionRange(selectionStart, selectionStart);
      this.text.scrollTop = scrollTop;
    }
    this.shown = text;
    this.mark();
  }

  typed() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.send(), PAUSE);
    this.mark();
  }

  async send() {
    clearTimeout(this.timer);
    this.timer = 0;
    if (!this.store.api || !this.waiting || this.text.value === this.sent) return;
    this.sent = this.text.value;
    if (await this.actions.text(this.sent)) this.shown = this.store.now.state.text;
    this.sent = null;
  }

  /** Line numbers, with the line of the fault and of the chosen section marked. */
  mark(bring = false) {
    const { fault, chosen, view } = this.store.now;
    const line = chosen === null ? null : view.sections[chosen]?.line;
    const count = this.text.value.split("\n").length;
    this.lines.replaceChildren(...Array.from({ length: count }, (_, i) => make("span", { class: fault?.line === i + 1 ? "wrong" : line === i + 1 ? "here" : "" }, String(i + 1))));
    if (this.scrolled) this.lines.scrollTop = this.text.scrollTop;
    this.text.setAttribute("aria-invalid", String(Boolean(fault)));
    const bits = fault ? [fault.line ? `Line ${fault.line}: ` : "", fault.message, fault.found ? ` - found ${fault.found}` : "", fault.allowed ? `; allowed: ${fault.allowed}` : "", fault.hint ? `. ${fault.hint}` : ""] : [];
    const words = bits.join("");
    if (this.fault.textContent !== words) this.fault.textContent = words;
    if (bring && line) {
      const height = this.text.scrollHeight / count;
      if (line * height < this.text.scrollTop || line * height > this.text.scrollTop + this.text.clientHeight) this.text.scrollTop = (line - 4) * height;
    }
  }
}

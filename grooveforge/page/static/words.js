// Small helpers of writing: escaping, clocks, lists in words, elements.

const SIGNS = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;" };

/** Text made safe inside HTML and attributes. */
export const safe = (text) => String(text).replace(/[&<>"']/g, (sign) => SIGNS[sign]);

/** Minutes and seconds, as a player reads them. */
export function clock(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/** A number without needless zeros. */
export const plain = (number) => String(Math.round(number * 1000) / 1000);

/** "a, b and c". */
export function listed(items) {
  if (items.length < 2) return items.join("");
  return `${items.slice(0, -1).join(", ")} and ${items[items.length - 1]}`;
}

export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

export const counted = (number, word) => `${number} ${word}${number === 1 ? "" : "s"}`;

/** "bars 5–12" or "bar 5". */
export const barsWords = (first, bars) => (bars === 1 ? `bar ${first}` : `bars ${first}–${first + bars - 1}`);

const shared = new WeakMap(); // view -> how many sections have each name

/** How a section is called: its name, with the statement's number where several share it ("chorus 2"). */
export function called(view, section) {
  if (!shared.has(view)) {
    const counts = new Map();
    for (const { name } of view.sections) counts.set(name, (counts.get(name) ?? 0) + 1);
    shared.set(view, counts);
  }
  return shared.get(view).get(section.name) > 1 ? `${section.name} ${section.statement}` : section.name;
}

/** A feel as it is said: "half time", "d-beat", "blast". */
export const feelWords = (feel) => (["quarter", "half", "full", "double"].includes(feel) ? `${feel} time` : feel);

/** A value of the sheet in words. */
export function valueWords(value) {
  if (value === null || value === undefined) return "as it is";
  if (value === true) return "yes";
  if (value === false) return "no";
  if (Array.isArray(value)) return value.map(valueWords).join(", ");
  if (typeof value === "object") {
    if ("on" in value) return `${value.on} for ${value.bars}`;
    return Object.entries(value).map(([key, item]) => `${key.replace("_", " ")} ${valueWords(item)}`).join(" ");
  }
  return String(value);
}

/** An element with attributes, listeners ("onclick") and children; text is never read as HTML. */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name in element && typeof value !== "string") element[name] = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

/** A select: `choices` are values or [value, text]; `chosen` is compared as JSON so that truths and texts both work. */
export function select(attributes, choices, chosen, changed) {
  const element = make("select", attributes);
  const wanted = JSON.stringify(chosen);
  let found = false;
  for (const choice of choices) {
    const [value, text] = Array.isArray(choice) ? choice : [choice, valueWords(choice)];
    const option = make("option", { value: JSON.stringify(value) }, text);
    if (JSON.stringify(value) === wanted) option.selected = found = true;
    element.append(option);
  }
  if (!found && chosen !== undefined) {
    element.prepend(make("option", { value: wanted, selected: true }, valueWords(chosen)));
    element.value = wanted;
  }
  element.addEventListener("change", () => changed(JSON.parse(element.value)));
  return element;
}

/** Replaces what stands in `place`, keeping the focus on the element of the same id. */
export function refill(place, ...children) {
  const id = place.contains(document.activeElement) ? document.activeElement.id : "";
  const open = [...place.querySelectorAll("details[open]")].map((fold) => fold.id);
  place.replaceChildren(...children.flat().filter(Boolean));
  for (const fold of open) if (fold) { const again = document.getElementById(fold); if (again) again.open = true; }
  if (id) document.getElementById(id)?.focus({ preventScroll: true });
}

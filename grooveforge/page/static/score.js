// Draws a section: rows of bars as SVG text. A row is a handful of paths, however many strokes it holds.

import { firstFrom } from "./bars.js";
import { TOP, perRow, rowsOf } from "./geometry.js";
import { barsWords, called, counted, feelWords, listed, safe } from "./words.js";

const HAND = 0, SNARE = 1, KICK = 2;
const LINE_Y = [TOP.hand, TOP.snare, TOP.kick, TOP.other];
const LINE_SIZE = [0.94, 1, 1, 0.72]; // the fourth line is thin, and so are its dots
const LONG_STEM = 21;
const SHORT_STEM = 8;

// How dark the ribbon is, by what the hand strikes: from the closed hi-hat, which sounds driest, to the china (house rule).
const SHADES = {
  "closed hi-hat": 1, "pedal hi-hat": 1, "half-open hi-hat": 2, "open hi-hat": 3, ride: 3, "second ride": 3, "ride bell": 4,
  cowbell: 4, tambourine: 2, splash: 4, crash: 5, "second crash": 5, china: 6,
};
const TOM_SHADE = 7; // drums under the hand: hatched

export const shadeOf = (surface) => SHADES[surface] ?? TOM_SHADE;

const short = (number) => Math.round(number * 10) / 10;

/** A filled circle as a path. */
function dot(x, y, radius) {
  const r = short(radius);
  return `M${short(x - r)} ${y}a${r} ${r} 0 1 0 ${short(2 * r)} 0a${r} ${r} 0 1 0 ${short(-2 * r)} 0z`;
}

/** The ribbon of the hand: [{first, bars, surface}] by bar of the song. */
const handAt = (section, bar) => section.hand.find((move) => bar >= move.bar && bar < move.bar + move.bars)?.surface ?? null;

function ribbons(section, row) {
  const runs = [];
  for (const place of row.bars) {
    const surface = handAt(section, place.bar.bar);
    const last = runs[runs.length - 1];
    if (last && last.surface === surface) last.width += place.width;
    else runs.push({ surface, x: place.x, width: place.width });
  }
  return runs
    .map(({ surface, x, width }) => {
      if (!surface) return `<line class="nohand" x1="${short(x)}" x2="${short(x + width)}" y1="${TOP.hand}" y2="${TOP.hand}"/>`;
      const box = `x="${short(x + 0.5)}" y="${TOP.ribbon}" width="${short(width - 1)}" height="${TOP.ribbonHigh}"`;
      return `<rect class="ribbon shade${shadeOf(surface)}" ${box}/>`
        + `<text class="surface" x="${short(x + 4)}" y="${TOP.ribbon - 4}">${safe(surface)}</text>`;
    })
    .join("");
}

function energy(row) {
  const y = (value) => short(TOP.energy + TOP.energyHigh * (1 - Math.min(1, Math.max(0, value))));
  let path = "";
  for (const { bar, x, width } of row.bars) path += `${path ? "L" : "M"}${short(x)} ${y(bar.energy)}L${short(x + width)} ${y(bar.energy)}`;
  return `<path class="energy" d="${path}"/>`;
}

function barLines(row, inset) {
  let beats = "";
  let lines = `M0 ${TOP.ribbon}V${TOP.kick + 22}`;
  let numbers = "";
  for (const { bar, x, width } of row.bars) {
    lines += `M${short(x + width)} ${TOP.ribbon}V${TOP.kick + 22}`;
    numbers += `<text class="number" x="${short(x + 3)}" y="${TOP.numbers}">${bar.bar}</text>`;
    const [upper, lower] = bar.meter.split("/").map(Number);
    const count = lower >= 8 && upper % 3 === 0 ? upper / 3 : upper;
    for (let at = 1; at < count; at += 1) beats += `M${short(x + inset + ((width - inset) * at) / count)} ${TOP.snare - 6}v12m0 8v12`;
  }
  return `<path class="beats" d="${beats}"/><path class="lines" d="${lines}"/>${numbers}`;
}

const NAMES = [[TOP.hand, "hand"], [TOP.snare, "snare"], [TOP.kick, "kick"], [TOP.other, "rest"]];
const names = NAMES.map(([y, name]) => `<text class="name" x="-5" y="${y + 3.5}">${name}</text>`).join("");

const staff = (end) =>
  [SNARE, KICK].map((line) => `<line class="staff" x1="0" x2="${short(end)}" y1="${LINE_Y[line]}" y2="${LINE_Y[line]}"/>`).join("")
  + `<line class="staff thin" x1="0" x2="${short(end)}" y1="${TOP.other}" y2="${TOP.other}"/>`;

/** Dots, rings and stems of a row, old strokes and new ones apart. */
function strokes(view, section, row, largest) {
  const { tick, surface, velocity, line } = view.events;
  const fresh = view.events.new;
  const parts = { dots: "", newDots: "", rings: "", newRings: "", stems: "", newStems: "", marks: "" };
  const codes = Object.fromEntries(Object.entries(view.surfaces).map(([code, name]) => [name, Number(code)]));
  const inset = largest + 2; // a stroke on the 1 stands behind the bar line
  for (const { bar, x, width } of row.bars) {
    const hand = handAt(section, bar.bar);
    const handCode = codes[hand];
    let changed = false;
    for (let i = firstFrom(tick, bar.tick); i < tick.length && tick[i] < bar.tick + bar.ticks; i += 1) {
      const at = short(x + inset + ((tick[i] - bar.tick) / bar.ticks) * (width - inset));
      const y = LINE_Y[line[i]];
      const r = largest * LINE_SIZE[line[i]] * Math.sqrt(velocity[i] / 127);
      const isNew = fresh[i] && section.against !== null;
      changed ||= Boolean(isNew);
      const ring = line[i] === HAND && handCode !== undefined && surface[i] !== handCode;
      parts[isNew ? (ring ? "newRings" : "newDots") : ring ? "rings" : "dots"] += dot(at, y, ring ? r - 0.5 : r);
      if (line[i] === SNARE) {
        const beat = (tick[i] - bar.tick) / view.division + 1;
        const long = bar.backbeats.some((one) => Math.abs(one - beat) < 0.07);
        const stem = `M${short(at + r - 0.6)} ${y}v${-(long ? LONG_STEM : SHORT_STEM)}`;
        if (long || velocity[i] > 60) parts[isNew ? "newStems" : "stems"] += stem;
      }
    }
    if (changed) parts.marks += `M${short(x + 3)} ${TOP.high - 3}H${short(x + width - 3)}`;
  }
  return `<path class="stems" d="${parts.stems}"/><path class="dots" d="${parts.dots}"/><path class="rings" d="${parts.rings}"/>`
    + `<path class="stems new" d="${parts.newStems}"/><path class="dots new" d="${parts.newDots}"/><path class="rings new" d="${parts.newRings}"/>`
    + `<path class="changed" d="${parts.marks}"/>`;
}

function findingMarks(view, row) {
  return row.bars
    .map(({ bar, x }) => {
      const found = (view.findings ?? []).filter((finding) => finding.bar === bar.bar);
      return found.map((finding) => `<text class="finding" x="${short(x + (finding.beat - 1) * view.division * row.scale + 2)}" y="${TOP.numbers + 2}">!</text>`).join("");
    })
    .join("");
}

/** A section as SVG text at a width in pixels. */
export function drawn(view, section, width) {
  const bars = perRow(width);
  return rowsOf(view, section, width)
    .map((row, number) => {
      const largest = Math.min(7, Math.max(2.6, (row.bars[0].width / 16) * 0.53));
      return `<svg class="row" width="${width}" height="${TOP.high}" viewBox="0 0 ${width} ${TOP.high}" aria-hidden="true" data-bars="${bars}">`
        + `${energy(row)}${ribbons(section, row)}${staff(row.end)}${barLines(row, largest + 2)}${strokes(view, section, row, largest)}${findingMarks(view, row)}${number ? "" : names}</svg>`;
    })
    .join("");
}

/** What the drawing says, in words for those who hear the page. */
export function inWords(view, section) {
  const bars = view.bars.slice(section.bar - 1, section.bar - 1 + section.bars);
  const backbeats = bars.find((bar) => bar.backbeats.length)?.backbeats ?? [];
  const hand = section.hand.filter((move) => move.surface).map((move) => `${move.surface} for ${counted(move.bars, "bar")}`);
  const changes = section.differences.map((difference) => difference.in_words);
  return [
    `${called(view, section)}: ${barsWords(section.bar, section.bars)}, ${section.feel ? feelWords(section.feel) : "no backbeat"}`,
    backbeats.length ? `backbeats on ${listed(backbeats.map(String))}` : "",
    hand.length ? `the hand on ${listed(hand)}` : "no timekeeping hand",
    changes.length ? `against the statement before: ${changes.join("; ")}` : "",
  ].filter(Boolean).join(". ") + ".";
}

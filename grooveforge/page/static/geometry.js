// Where bars stand: a section is broken into rows of 8, 4, 2 or 1 bars, and every tick has its x.

export const TOP = { numbers: 11, energy: 14, energyHigh: 13, ribbon: 41, ribbonHigh: 25, hand: 53.5, snare: 84, kick: 104, other: 120, high: 132 };
const NARROWEST_BAR = 116;
const PER_ROW = [8, 4, 2, 1];

/** Bars to a row: as many of 8, 4, 2 as leave a bar wide enough to be read. */
export const perRow = (width) => PER_ROW.find((bars) => width / bars >= NARROWEST_BAR) ?? 1;

/** The tick where a section begins and the one after its end. */
export function ticksOf(view, section) {
  const first = view.bars[section.bar - 1];
  const last = view.bars[section.bar + section.bars - 2];
  return [first.tick, last.tick + last.ticks];
}

/** The length that most bars of a section have. */
function usualTicks(bars) {
  const counts = new Map();
  for (const bar of bars) counts.set(bar.ticks, (counts.get(bar.ticks) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1] || b[0] - a[0])[0][0];
}

/** Rows of {bars: [{bar, x, width}], scale} that a section is drawn in; `scale` is pixels to a tick. */
export function rowsOf(view, section, width) {
  const bars = view.bars.slice(section.bar - 1, section.bar - 1 + section.bars);
  const most = perRow(width);
  const scale = width / (most * usualTicks(bars));
  const rows = [];
  let row = null;
  for (const bar of bars) {
    const wide = Math.min(bar.ticks * scale, width);
    if (!row || row.bars.length >= most || row.end + wide > width + 1) {
      row = { bars: [], end: 0, scale };
      rows.push(row);
    }
    row.bars.push({ bar, x: row.end, width: wide });
    row.end += wide;
  }
  return rows;
}

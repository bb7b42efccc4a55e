// Finding one's way in a song: the bar at a time, the first of many from a place on.

/** Index of the first of `values` (rising) that is at least `least`. */
export function firstFrom(values, least) {
  let low = 0;
  let high = values.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (values[middle] < least) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** The bar that sounds at a second of the song. */
export function barAt(view, time) {
  const { bars } = view;
  let low = 0;
  let high = bars.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (bars[middle].time <= time + 1e-6) low = middle;
    else high = middle - 1;
  }
  return bars[low];
}

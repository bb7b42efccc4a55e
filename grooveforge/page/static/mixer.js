// Mixing strokes into a window of samples, by the rules of grooveforge/sound: chokes, held strokes, the first sound, the ceiling.
//
// events = {at: samples (rising), surface, velocity, and where they are known: variant, until (the sample at which a
// stroke is damped; Infinity for never), share (how much of each is heard), level (one number for the whole song),
// first (what `firstSound` gave)}. What ends a stroke lies at or before that moment, so a window sounds the same
// whether or not what follows it is known.

/** Per event the sample at which it is let go, and its variant. */
function placed(events, bank) {
  const { at, surface } = events;
  const release = new Float64Array(at.length).fill(Infinity);
  const variant = new Uint8Array(at.length);
  const strokes = new Map(); // surface -> indices
  const ringing = new Map(); // group -> indices that no later stroke has stopped
  for (let i = 0; i < at.length; i += 1) {
    const row = bank.row(surface[i]);
    if (events.until) release[i] = events.until[i];
    if (!strokes.has(surface[i])) strokes.set(surface[i], []);
    const earlier = strokes.get(surface[i]);
    variant[i] = events.variant ? events.variant[i] : earlier.length % bank.variants;
    const oldest = earlier[earlier.length - row.held];
    if (oldest !== undefined) release[oldest] = Math.min(release[oldest], at[i]);
    earlier.push(i);
    if (!row.group) continue;
    const before = ringing.get(row.group) ?? [];
    for (const other of before) if (at[other] < at[i]) release[other] = Math.min(release[other], at[i]);
    ringing.set(row.group, [...before.filter((other) => at[other] === at[i]), i]);
  }
  return { release, variant };
}

const falls = new Map();

/** How a stroke falls that is let go. */
function fallOf({ rules, sampleRate }) {
  if (!falls.has(sampleRate)) {
    const count = Math.round(rules.release_length * sampleRate);
    falls.set(sampleRate, Float32Array.from({ length: count }, (_, n) => {
      const at = n / sampleRate;
      return 10 ** (-at / rules.release) * Math.sqrt(1 - at / rules.release_length);
    }));
  }
  return falls.get(sampleRate);
}

/**
 * How much softer the first sound is, so that it is not louder than the loudest one after it: {end: the sample up to
 * which strokes belong to it, gain, settled: whether what comes later still changes nothing}. Counted from the voices'
 * own levels: those that sound together are added.
 */
export function firstSound({ at, surface, velocity, share }, bank) {
  const { together, after_first: lasts, first_share: most } = bank.rules;
  const reach = Math.round(together * bank.sampleRate);
  const end = at[0] + Math.round(lasts * bank.sampleRate);
  const level = (i) => {
    let sum = 0;
    for (let j = i; j < at.length && at[j] <= at[i] + reach; j += 1) sum += bank.peak(surface[j], velocity[j]) * bank.level(velocity[j]) * (share?.[j] ?? 1);
    return sum;
  };
  let first = 0;
  let later = 0;
  let i = 0;
  for (; i < at.length && at[i] < end; i += 1) first = Math.max(first, level(i));
  if (i === at.length || !first) return { end, gain: 1, settled: false };
  // One that is loud enough settles it, and voices behind it need not be made for this.
  for (; i < at.length && most * later < first; i += 1) later = Math.max(later, level(i));
  return { end, gain: Math.min(1, (most * later) / first), settled: most * later >= first };
}

/** Rounds off what is above the knee, in place. */
export function limit(samples, { knee, ceiling }) {
  const room = ceiling - knee;
  for (let n = 0; n < samples.length; n += 1) {
    const level = Math.abs(samples[n]);
    if (level > knee) samples[n] = Math.sign(samples[n]) * (knee + room * Math.tanh((level - knee) / room));
  }
  return samples;
}

const WIDEST = 8; // what the ceiling knows to bend: 18 dB over full scale; what is above that stays at the ceiling
const POINTS = 1 << 15; // of its curve

/** The ceiling over all that is connected to it, as two nodes: `limit` as a curve, which bends every sample by itself. */
export function ceiling(context, rules) {
  const input = context.createGain();
  const bend = context.createWaveShaper();
  input.gain.value = 1 / WIDEST;
  bend.curve = limit(Float32Array.from({ length: POINTS + 1 }, (_, n) => WIDEST * ((2 * n) / POINTS - 1)), rules);
  input.connect(bend);
  return { input, output: bend };
}

/** [left, right] of `length` samples from sample `start` on, without the ceiling: the same as a cut from the mix of the whole. */
export function mix(events, bank, start, length) {
  const left = new Float32Array(length);
  const right = new Float32Array(length);
  const { release, variant } = placed(events, bank);
  const fall = fallOf(bank);
  for (let i = 0; i < events.at.length && events.at[i] < start + length; i += 1) {
    const at = events.at[i];
    const last = release[i] + fall.length;
    if (last <= start) continue;
    const voice = bank(events.surface[i], events.velocity[i], variant[i]);
    const soft = at < (events.first?.end ?? -Infinity) ? events.first.gain : 1;
    const gain = bank.level(events.velocity[i]) * (events.level ?? 1) * soft;
    const [a, b] = [gain * voice.left, gain * voice.right];
    const from = Math.max(start, at);
    const whole = Math.min(start + length, at + voice.samples.length, last);
    const held = Math.min(whole, Math.max(from, release[i]));
    for (let n = from; n < held; n += 1) {
      left[n - start] += a * voice.samples[n - at];
      right[n - start] += b * voice.samples[n - at];
    }
    for (let n = held; n < whole; n += 1) {
      const value = voice.samples[n - at] * fall[n - release[i]];
      left[n - start] += a * value;
      right[n - start] += b * value;
    }
  }
  return [left, right];
}

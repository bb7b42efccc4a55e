// The voices of grooveforge/sound, made in the browser from the same table: same noise, same parts, within 1e-3 a sample.
//
// `params` is what grooveforge.sound.voices.table() gives. Nothing here knows a surface by its name.

function mixed(word, { first, second }) {
  word = Math.imul(word ^ (word >>> 16), first);
  word = Math.imul(word ^ (word >>> 15), second);
  return (word ^ (word >>> 16)) >>> 0;
}

/** One seed of 32 bits from several small whole numbers. */
export function seedOf(noise, ...numbers) {
  let seed = 0;
  for (const number of numbers) seed = mixed((Math.imul(seed, noise.stride) + number + 1) >>> 0, noise);
  return seed;
}

/** `count` 32-bit words: the hashes of seed, seed + 1 ... */
export function words(noise, seed, count) {
  const made = new Uint32Array(count);
  for (let n = 0; n < count; n += 1) made[n] = mixed((seed + n) >>> 0, noise);
  return made;
}

const evenly = (noise, seed, count) => Float64Array.from(words(noise, seed, count), (word) => word / 4294967296);

/** White noise, even between -1 and 1. */
function white(noise, seed, count) {
  const made = new Float32Array(count);
  for (let n = 0; n < count; n += 1) made[n] = (mixed((seed + n) >>> 0, noise) >>> 8) / 8388608 - 1;
  return made;
}

/** Adds decaying sines: sample B * i + k of a partial is a product of one number for i and one for k. */
function addPartials(out, partials, stroke, gain) {
  const { length, rate, highest } = stroke;
  const width = Math.floor(Math.sqrt(length)) + 1;
  const rows = Math.ceil(length / width);
  const real = new Float64Array(width);
  const imaginary = new Float64Array(width);
  for (const { pitch, decay, level, phase } of partials) {
    if (pitch >= highest * rate) continue;
    const turn = (2 * Math.PI * pitch) / rate;
    const fall = -1 / (decay * rate);
    for (let k = 0; k < width; k += 1) {
      const size = Math.exp(fall * k);
      real[k] = size * Math.cos(turn * k);
      imaginary[k] = size * Math.sin(turn * k);
    }
    for (let i = 0; i < rows; i += 1) {
      const begin = i * width;
      const size = gain * level * Math.exp(fall * begin);
      if (size < 1e-7) break; // nothing that a 16-bit sample could hold
      const a = size * Math.sin(turn * begin + phase);
      const b = size * Math.cos(turn * begin + phase);
      const many = Math.min(width, length - begin);
      for (let k = 0; k < many; k += 1) out[begin + k] += a * real[k] + b * imaginary[k];
    }
  }
}

/** A band-pass of unit energy: the difference of two sincs under a sine-squared window. */
function kernel(low, high, taps, rate) {
  const upper = Math.min((2 * high) / rate, 1);
  const lower = (2 * low) / rate;
  const sinc = (x) => (x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x));
  const band = new Float64Array(taps);
  let energy = 0;
  for (let n = 0; n < taps; n += 1) {
    const at = n - (taps - 1) / 2;
    const window = Math.sin((Math.PI * (n + 0.5)) / taps) ** 2;
    band[n] = (upper * sinc(upper * at) - lower * sinc(lower * at)) * window;
    energy += band[n] * band[n];
  }
  return Float32Array.from(band, (value) => value / Math.sqrt(energy));
}

const MAKERS = {
  glide(part, stroke, out) {
    const loose = evenly(stroke.noise, stroke.seed, 2);
    const pitch = 2 * Math.PI * (1 + stroke.shape.loose_pitch * (2 * loose[0] - 1));
    const gain = part.gain * (1 + (stroke.shape.loose_gain / 2) * (2 * loose[1] - 1));
    for (let n = 0; n < stroke.length; n += 1) {
      const at = n / stroke.rate;
      const cycles = part.low * at + (part.high - part.low) * part.glide * (1 - Math.exp(-at / part.glide));
      out[n] = gain * Math.sin(pitch * cycles) * Math.exp(-at / part.decay);
    }
  },

  ring(part, stroke, out) {
    const many = part.partials.length;
    const loose = evenly(stroke.noise, stroke.seed, 2 * many);
    const partials = part.partials.map(([pitch, gain, decay], n) => ({
      pitch,
      decay,
      level: gain * (1 + stroke.shape.loose_gain * (2 * loose[n] - 1)),
      phase: 2 * Math.PI * loose[many + n],
    }));
    addPartials(out, partials, stroke, part.gain);
  },

  cloud(part, stroke, out) {
    const many = part.count;
    const places = evenly(stroke.noise, stroke.places, many);
    const loose = evenly(stroke.noise, stroke.seed, 2 * many);
    const partials = [];
    for (let n = 0; n < many; n += 1) {
      const at = (n + places[n]) / many;
      const octaves = Math.log2(part.high / part.low) * at;
      partials.push({
        pitch: part.low * 2 ** octaves,
        decay: part.decay_low * (part.decay_high / part.decay_low) ** at,
        level: (10 ** ((part.tilt * octaves) / 20) * (0.4 + 0.6 * loose[n])) / Math.sqrt(many),
        phase: 2 * Math.PI * loose[many + n],
      });
    }
    addPartials(out, partials, stroke, part.gain);
  },

  hiss(part, stroke, out) {
    const band = kernel(part.low, part.high, part.taps, stroke.rate);
    const noise = white(stroke.noise, stroke.seed, stroke.length + part.taps - 1);
    const last = part.taps - 1;
    for (let n = 0; n < stroke.length; n += 1) {
      let sum = 0;
      for (let tap = 0; tap <= last; tap += 1) sum += band[last - tap] * noise[n + tap];
      const at = n / stroke.rate;
      const bloom = part.rise ? 1 - Math.exp(-at / part.rise) : 1;
      out[n] = part.gain * sum * Math.exp(-at / part.decay) * bloom;
    }
  },
};

function longestDecay(part) {
  if (part.partials) return Math.max(...part.partials.map(([, , decay]) => decay));
  return Math.max(part.decay ?? 0, part.decay_low ?? 0, part.decay_high ?? 0);
}

/** From nothing up to 1 in `ramp` seconds, and down to nothing over the last of a voice. */
function hull(count, ramp, fade, rate) {
  const made = new Float64Array(count).fill(1);
  const up = roundEven(ramp * rate);
  const down = Math.min(roundEven(fade * rate), Math.floor(count / 2));
  for (let n = 0; n < up; n += 1) made[n] = Math.sin(((Math.PI / 2) * n) / up) ** 2;
  for (let n = 0; n < down; n += 1) made[count - down + n] = Math.sin(((Math.PI / 2) * (down - n - 1)) / down) ** 2;
  return made;
}

/** Rounds halves to the even number, as Python does. */
function roundEven(value) {
  const floor = Math.floor(value);
  if (value - floor !== 0.5) return Math.round(value);
  return floor % 2 ? floor + 1 : floor;
}

/** The row of a surface code; the one for unknown notes where there is none of its own. */
export function voiceOf(params, code) {
  return params.voices.find((voice) => voice.code === code) ?? params.voices.find((voice) => voice.code === params.unknown);
}

/** Left and right gain of a voice, of equal power. */
export function panOf(voice) {
  const angle = ((voice.pan + 1) * Math.PI) / 4;
  return [Math.cos(angle), Math.sin(angle)];
}

/** The parts of one variant of a voice, each at its gain. */
export function makeParts(params, voice, variant, sampleRate) {
  const { noise, shape } = params;
  const count = roundEven(voice.seconds * sampleRate);
  return voice.parts.map((part, number) => {
    const length = Math.min(count, Math.ceil(shape.decays * longestDecay(part) * sampleRate));
    const stroke = {
      noise, shape, length, rate: sampleRate, highest: shape.highest,
      seed: seedOf(noise, voice.code, number, voice.shared ? 0 : variant + 1), places: seedOf(noise, voice.code, number),
    };
    const out = new Float32Array(count);
    MAKERS[part.kind](part, stroke, out);
    return out;
  });
}

/** How much of each part is in a layer and a variant. */
function weights(params, voice, force, variant) {
  const many = voice.parts.length;
  const loose = evenly(params.noise, seedOf(params.noise, voice.code, many, variant), 2 * many);
  return voice.parts.map((part, n) => {
    const hard = force ** part.force;
    if (!voice.shared) return hard;
    return hard * 10 ** ((params.shape.weighed * (2 * loose[n] - 1)) / 20) * (loose[many + n] < 0.5 ? -1 : 1);
  });
}

/** A layer of a variant of a voice from its parts. */
export function layered(params, voice, parts, layer, variant, sampleRate) {
  const force = weights(params, voice, params.rules.layers[layer][1], variant);
  const count = parts[0].length;
  const wave = new Float32Array(count);
  parts.forEach((part, number) => {
    for (let n = 0; n < count; n += 1) wave[n] += force[number] * part[n];
  });
  const shape = hull(count, voice.ramp, params.shape.fade, sampleRate);
  const top = Math.tanh(voice.drive);
  let sum = 0;
  let room = 0;
  const droop = new Float64Array(count);
  for (let n = 0; n < count; n += 1) {
    const driven = voice.drive ? Math.tanh(voice.drive * wave[n]) / top : wave[n];
    wave[n] = driven * shape[n] * voice.gain;
    droop[n] = shape[n] * Math.exp(-n / (params.shape.droop * sampleRate));
    sum += wave[n];
    room += droop[n];
  }
  for (let n = 0; n < count; n += 1) wave[n] -= (sum / room) * droop[n];
  return wave;
}

/** A voice from nothing: mono samples of a surface code at a layer (0 to 3) and a variant (0 to 2). */
export function makeVoice(params, surface, layer, variant, sampleRate) {
  const voice = voiceOf(params, surface);
  return layered(params, voice, makeParts(params, voice, variant, sampleRate), layer, variant, sampleRate);
}

// Slower or faster at the same pitch: overlap-add of short grains, each laid where it fits the one before best
// (waveform similarity, W. Verhelst and M. Roelands, "An overlap-add technique based on waveform similarity", 1993).

const GRAIN = 0.06; // seconds
const SEEK = 0.01; // seconds searched to either side
const COARSE = 8; // samples between the places compared

/** `samples` played at `rate` times their speed. */
export function stretched(samples, rate, sampleRate) {
  const grain = 2 * Math.round((GRAIN * sampleRate) / 2);
  const hop = grain / 2;
  const seek = Math.round(SEEK * sampleRate);
  const length = Math.floor(samples.length / rate);
  const result = new Float32Array(length + grain);
  const window = Float32Array.from({ length: grain }, (_, i) => 0.5 - 0.5 * Math.cos((2 * Math.PI * (i + 0.5)) / grain));
  let natural = 0;
  for (let out = 0; out < length; out += hop) {
    const wanted = Math.round(out * rate);
    const from = out === 0 ? 0 : fitting(samples, natural, wanted, seek, hop);
    const most = Math.min(grain, samples.length - from);
    for (let i = 0; i < most; i += 1) result[out + i] += samples[from + i] * (out === 0 && i < hop ? 1 : window[i]);
    natural = from + hop;
  }
  return result.subarray(0, length);
}

/** The place near `wanted` whose next samples look most like those at `natural`. */
function fitting(samples, natural, wanted, seek, length) {
  let best = Math.max(0, Math.min(wanted, samples.length - 1));
  let most = -Infinity;
  for (let at = Math.max(0, wanted - seek); at <= wanted + seek && at + length < samples.length; at += COARSE) {
    let sum = 0;
    for (let i = 0; i < length; i += COARSE) sum += samples[natural + i] * samples[at + i] || 0;
    if (sum > most) { most = sum; best = at; }
  }
  return best;
}

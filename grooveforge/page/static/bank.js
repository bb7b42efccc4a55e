// A bank of voices: each made at its first use and kept. `bank(surface, velocity, variant)` gives a voice.

import { layered, makeParts, panOf, voiceOf } from "./voices.js";

/** Gives {samples, left, right, group, held} for a surface code, a velocity and a variant. */
export function makeBank(params, sampleRate) {
  const { layers, variants, curve, master } = params.rules;
  const parts = new Map();
  const made = new Map();
  const rows = new Map();
  const named = (name) => params.voices.find((voice) => voice.name === name).code;

  const row = (surface) => {
    if (!rows.has(surface)) rows.set(surface, voiceOf(params, surface));
    return rows.get(surface);
  };

  const bank = (surface, velocity, variant) => {
    const voice = row(surface);
    const layer = layers.findIndex(([high]) => velocity <= high);
    const turn = variant % variants;
    const key = (voice.code * 8 + layer) * 8 + turn;
    if (!made.has(key)) {
      const kept = voice.code * 8 + (voice.shared ? 0 : turn);
      if (!parts.has(kept)) parts.set(kept, makeParts(params, voice, turn, sampleRate));
      const [left, right] = panOf(voice);
      made.set(key, { samples: layered(params, voice, parts.get(kept), layer, turn, sampleRate), left, right });
    }
    return made.get(key);
  };

  bank.variants = variants;
  bank.sampleRate = sampleRate;
  bank.rules = params.rules;
  bank.row = row;
  /** The highest sample of a stroke's first variant at its layer, in its louder channel. */
  bank.peak = (surface, velocity) => {
    const voice = bank(surface, velocity, 0);
    voice.peak ??= Math.max(voice.left, voice.right) * voice.samples.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
    return voice.peak;
  };
  bank.level = (velocity) => master * (velocity / 127) ** curve;
  bank.clickCode = (strong) => named(strong ? "strong click" : "click");
  bank.riffCode = (muted) => named(muted ? "muted riff" : "riff");
  return bank;
}

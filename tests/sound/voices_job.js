// What the tests ask of the browser's voices and mixer: run by node and inside chromium alike.
// job = {table, rate, voices: [[code, layer, variant]], mixes: [{at, surface, velocity, until, level, start, length}]}

import { makeBank } from "../../grooveforge/page/static/bank.js";
import { firstSound, limit, mix } from "../../grooveforge/page/static/mixer.js";
import { makeVoice } from "../../grooveforge/page/static/voices.js";

export function run(job) {
  const bank = makeBank(job.table, job.rate);
  return {
    voices: job.voices.map(([code, layer, variant]) => Array.from(makeVoice(job.table, code, layer, variant, job.rate))),
    mixes: job.mixes.map(({ at, surface, velocity, until, level, start, length }) => {
      const events = {
        at: Float64Array.from(at), surface: Int16Array.from(surface), velocity: Uint8Array.from(velocity), level,
        until: until && Float64Array.from(until, (moment) => moment ?? Infinity),
      };
      const first = firstSound(events, bank);
      return mix({ ...events, first }, bank, start, length).map((side) => Array.from(limit(side, bank.rules)));
    }),
  };
}

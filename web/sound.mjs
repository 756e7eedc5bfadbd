// Holds the sound of the band as it is built for a browser to the WAV that the program exports, sample against sample:
// node web/sound.mjs web/band.wasm.lzma PROGRAM SONG.toml [SECONDS]

import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { engine } from "./engine.mjs";

/** How alike they must be: the correlation of both, over the whole. */
const LEAST = 0.9999;
const RATE = 48000;
const PIECE = 512;

const [library, program, song, seconds = "60"] = process.argv.slice(2);
const { instance } = await WebAssembly.instantiate(engine(library), {});
const band = instance.exports;

const call = (does, text) => {
  const bytes = new TextEncoder().encode(text);
  const place = band.asked(bytes.length);
  new Uint8Array(band.memory.buffer, place, bytes.length).set(bytes);
  const well = does();
  const words = Buffer.from(band.memory.buffer, band.answer(), band.answer_length()).toString();
  if (!well) throw new Error(words);
};

const exported = spawnSync(program, ["export", song, "-o", "-", "--format", "wav"], { maxBuffer: 1 << 30 });
if (exported.status !== 0) throw new Error(String(exported.stderr));
const wave = exported.stdout;
const data = wave.indexOf("data") + 8;
const bits = wave.readUInt16LE(34);
const sample = (frame, side) => {
  const at = data + (2 * frame + side) * (bits / 8);
  if (bits === 16) return wave.readInt16LE(at) / 32768;
  if (bits === 24) return wave.readIntLE(at, 3) / 8388608;
  return wave.readFloatLE(at);
};
const frames = Math.min(Math.floor((wave.length - data) / (bits / 4)), Number(seconds) * RATE);

call(() => band.load(RATE), JSON.stringify({ name: "song.toml", song: readFileSync(song, "utf8"), countIn: 0 }));
call(band.act, "start");
const played = [];
const begun = performance.now();
for (let done = 0; done < frames + RATE; done += PIECE) {
  played.push(Float32Array.from(new Float32Array(band.memory.buffer, band.render(PIECE), PIECE)));
}
const speed = (frames + RATE) / RATE / ((performance.now() - begun) / 1000);
const left = Float32Array.from(played.flatMap((piece) => [...piece]));

// The band begins a while after it was told to: as far apart as their first sounds are.
const first = (at, length) => { for (let frame = 0; frame < length; frame += 1) if (Math.abs(at(frame)) > 1e-4) return frame; return 0; };
const guess = first((frame) => left[frame], left.length) - first((frame) => sample(frame, 0), frames);
const alike = (shift) => {
  let [ab, aa, bb] = [0, 0, 0];
  for (let frame = 0; frame < frames; frame += 1) {
    const [a, b] = [left[frame + shift] ?? 0, sample(frame, 0)];
    ab += a * b;
    aa += a * a;
    bb += b * b;
  }
  return ab / Math.sqrt(aa * bb || 1);
};
const [best, shift] = [-2, -1, 0, 1, 2].map((more) => [alike(guess + more), guess + more]).reduce((a, b) => (b[0] > a[0] ? b : a));
console.log(`sound in a browser as in the program: ${best.toFixed(7)} over ${(frames / RATE).toFixed(0)} s, ${(1000 * shift / RATE).toFixed(1)} ms after the start; rendered ${speed.toFixed(0)} times as fast as it plays`);
process.exit(best > LEAST ? 0 : 1);

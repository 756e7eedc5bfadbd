// Two bands, as a page has them: one plays and is asked for this and that, the other follows it from what it tells. At
// any time both must see the same: node web/follow.mjs web/band.wasm.lzma SONG.toml [STEPS]

import { readFileSync } from "node:fs";
import { engine } from "./engine.mjs";

const [library, song, steps = "300"] = process.argv.slice(2);
const bytes = engine(library);
const RATE = 8000;

const made = async () => {
  const { instance: { exports } } = await WebAssembly.instantiate(bytes, {});
  const call = (name, text, ...numbers) => {
    if (text !== null) {
      const asked = new TextEncoder().encode(text);
      const place = exports.asked(asked.length);
      new Uint8Array(exports.memory.buffer, place, asked.length).set(asked);
    }
    const well = exports[name](...numbers);
    const answer = Buffer.from(exports.memory.buffer, exports.answer(), exports.answer_length()).toString();
    if (!well) throw new Error(`${name} ${text}: ${answer}`);
    return answer;
  };
  return { exports, call };
};

// Any numbers do, but the same each time.
let state = 7;
const below = (limit) => {
  state = (Math.imul(state, 1103515245) + 12345) >>> 0;
  return (state >>> 8) % limit;
};
const ACTS = [
  () => "pause", () => "pause", () => "count-in", () => "bass", () => "chop", () => "guitar", () => "banjo", () => "fiddle",
  () => `speed ${25 + below(126)}`, () => "key-up", () => "key-down", () => `bar ${1 + below(40)}`, () => "bar-back",
  () => "section-forward", () => "section-back", () => `loop ${1 + below(30)}-${1 + below(30)}`, () => "loop-section",
  () => "loop-off", () => `banjo ${["off", "plain", "full"][below(3)]}`, () => `chairs ${["turns", "surprise", "written"][below(3)]}`,
  () => "loop-from", () => "loop-to", () => "tap", () => "cues", () => "names", () => "silence", () => "start 1", () => "start 0",
  () => `volume bass ${below(151)}`, () => "tab", () => "faster", () => "slower", () => "key D", () => "bar 9999", () => "loop 9000-9001",
];

const [player, eye] = [await made(), await made()];
const wish = JSON.stringify({ name: "song.toml", song: readFileSync(song, "utf8"), countIn: 1 });
player.call("load", wish, RATE);
eye.call("load", wish, 0);
player.call("act", "start");
let [acts, ends, loudest] = [0, 0, 0];
for (let step = 0; step < Number(steps); step += 1) {
  const pieces = 1 + below(30);
  for (let piece = 0; piece < pieces; piece += 1) {
    const place = player.exports.render(512);
    for (const sample of new Float32Array(player.exports.memory.buffer, place, 1024)) {
      if (!Number.isFinite(sample)) throw new Error("no number");
      loudest = Math.max(loudest, Math.abs(sample));
    }
  }
  const act = ACTS[below(ACTS.length)]();
  player.call("act", act);
  acts += 1;
  player.exports.render(512);
  for (const line of player.call("news", null).split("\n").filter(Boolean)) {
    if (/ status end/.test(line)) ends += 1;
    eye.call("replay", line);
  }
  const now = Math.round((player.exports.frame() / RATE) * 1e9);
  const [here, there] = [player, eye].map((band) => {
    const view = band.call("view", null, now);
    return view ? JSON.parse(view) : band.last;
  });
  player.last = here;
  eye.last = there;
  // What has no sound is counted apart.
  const [one, other] = [here, there].map((view) => JSON.stringify({ ...view, chart: 0 }));
  if (one !== other) throw new Error(`after step ${step}, ${act}:\n${one}\n${other}`);
}
if (loudest === 0 || loudest > 1) throw new Error(`as loud as ${loudest}`);
// Silence is silence, whatever was asked before.
player.call("act", "silence");
for (let piece = 0; piece < 64; piece += 1) player.exports.render(512);
const place = player.exports.render(512);
const left = Math.max(...new Float32Array(player.exports.memory.buffer, place, 1024).map(Math.abs));
if (left > 1e-4) throw new Error(`something still sounds: ${left}`);
console.log(`both saw the same after each of ${acts} acts, ${ends} ends among them`);

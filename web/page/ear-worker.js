// The worker for what takes its time: it hears a player, beside the band that it follows or in a file, and makes files.
import { Engine } from "./engine.js";

/** The longest take, in seconds: it is held in memory. */
const LONGEST = 30 * 60;
/** Frames of a file that are taken at once. */
const PIECE = 1 << 16;
/** How often a player is listened to in passing, in seconds, and how much of the time that may take: what plays beside it
 * comes first. */
const [EVERY, SHARE] = [0.5, 0.2];

/** @type {Engine | null} */
let engine = null;
let rate = 48000;
/** True if the player is heard beside the band. */
let beside = true;
/** The audio thread's frame at which the recording begins, and how many frames of it there are. */
let [begins, frames] = [-1, 0];
/** Marks that came before the first sound. @type {{frame: number, time: number}[]} */
let marks = [];

/** How late the player is heard, in milliseconds; null if nothing is to be said while they play. @type {number | null} */
let late = null;
/** The frames that were there when it was listened last, and when it may be again. */
let [looked, rested] = [0, 0];

/** Says how the player does. */
const notice = () => {
  const begun = performance.now();
  if (late === null || !beside || frames < looked + EVERY * rate || begun < rested) return;
  looked = frames;
  const told = engine?.call("noticed", null, late * 1e6) ?? "null";
  self.postMessage({ noticed: JSON.parse(told) });
  const ended = performance.now();
  rested = ended + (ended - begun) * (1 / SHARE - 1);
};

/** Takes sound, frame by frame. @param {Float32Array} samples */
const take = (samples) => {
  const { parts } = /** @type {Engine} */ (engine);
  const place = parts.asked(4 * samples.length);
  new Float32Array(parts.memory.buffer, place, samples.length).set(samples);
  parts.take(beside);
};

/** @param {MessageEvent} event a block of the microphone's sound */
const heard = ({ data }) => {
  if (!engine) return;
  if (begins < 0) begins = data.frame;
  const missing = data.frame - begins - frames;
  if (frames > LONGEST * rate) return;
  // What the audio thread left out is silence.
  if (missing > 0 && missing < LONGEST * rate) {
    take(new Float32Array(missing));
    frames += missing;
  }
  take(data.samples);
  frames += data.samples.length;
  marks.splice(0).forEach(mark);
  notice();
};

/** A frame of the band's, and when it left for the loudspeaker. @param {{frame: number, time: number}} at */
const mark = (at) => {
  if (begins < 0) marks.push(at);
  else engine?.parts.mark(at.time - begins / rate, (at.frame / rate) * 1e9);
};

/** @param {any} data a recording that came as a file */
const review = ({ channels, of, wish }) => {
  const length = channels[0].length;
  const begun = (/** @type {number} */ alone) => {
    engine?.call("listen", null, 0, channels.length, of, alone);
    beside = false;
    for (let from = 0; from < length; from += PIECE) {
      const count = Math.min(PIECE, length - from);
      const both = new Float32Array(count * channels.length);
      channels.forEach((/** @type {Float32Array} */ channel, /** @type {number} */ number) => {
        for (let at = 0; at < count; at += 1) both[at * channels.length + number] = channel[from + at];
      });
      take(both);
    }
    return JSON.parse(engine?.call("review_sound", wish, NaN) ?? "{}");
  };
  const told = begun(-1);
  return "alone" in told ? begun(told.alone) : told;
};

/** @param {any} data */
const does = async (data) => {
  try {
    if (data.engine) engine = await Engine.made(data.engine);
    if (!engine) return;
    if (data.load) engine.call("load", data.load, 0);
    for (const line of data.news ?? []) engine.call("replay", line);
    if (data.listen) {
      ({ rate, beside, late } = data.listen);
      [begins, frames, marks, looked] = [-1, 0, [], 0];
      engine.call("listen", null, Number(beside), 1, rate, -1);
      data.listen.port.onmessage = heard;
    }
    if (data.mark) mark(data.mark);
    if (data.hush) late = null;
    if (data.review) {
      const { late: by, now, song } = data.review;
      self.postMessage({ reviewed: JSON.parse(engine.call("review", song, by * 1e6, now)) });
    }
    if (data.sound) self.postMessage({ reviewed: review(data.sound) });
    if (data.make) {
      if (data.make === "wav") engine.call("wav", data.wish);
      else engine.call("printed", data.wish, 0, 0);
      const made = engine.bytes();
      self.postMessage({ made }, { transfer: [made.buffer] });
    }
    if (data.clicks) {
      const seconds = data.clicks.map((/** @type {number} */ at) => at - begins / rate);
      self.postMessage({ delay: JSON.parse(engine.call("delay", JSON.stringify(seconds))) });
    }
  } catch (why) {
    self.postMessage({ wrong: String(why instanceof Error ? why.message : why) });
  }
};

/** One after the other: the engine takes a while to be made. */
let before = Promise.resolve();
self.onmessage = ({ data }) => {
  before = before.then(() => does(data));
};

// The worker that plays: it keeps the sound a little ahead of what is heard, and does what hands ask.
import { Engine } from "./engine.js";

/** Frames that are made at a time. */
const PIECE = 512;
/** How far ahead of what is heard sound is made, in seconds; more on a device that ran dry, and somewhat more on one that
 * nearly did: then nothing was heard of it yet. */
const [LEAST_AHEAD, NEAR_AHEAD, MOST_AHEAD] = [0.055, 0.2, 0.5];

/** @type {Engine | null} */
let engine = null;
/** @type {MessagePort | null} */
let sink = null;
let rate = 48000;
let ahead = LEAST_AHEAD;
let [sent, played] = [0, 0];
/** True if the page wants to know what is played as MIDI. */
let midi = false;

const tell = () => {
  const news = engine?.call("news");
  if (news) self.postMessage({ news: news.split("\n") });
  const lines = midi && engine?.call("sent");
  if (lines) self.postMessage({ sent: lines.split("\n") });
};

const piece = () => {
  if (!engine) return null;
  const from = engine.parts.frame();
  return { from, ...engine.render(PIECE) };
};

/** Makes what the sink wants by now. */
const pump = () => {
  if (!engine || !sink) return;
  while (sent - played < ahead * rate) {
    const next = piece();
    if (!next) return;
    sink.postMessage(next, [next.left.buffer, next.right.buffer]);
    sent += PIECE;
  }
  tell();
};

/** Where nothing is heard, time goes on only so far that what was asked for is done. */
const settle = () => {
  if (!engine || sink) return;
  for (let pieces = 0; pieces < 4; pieces += 1) piece();
  tell();
};

/** @param {MessageEvent} event what the sink has played since */
const heard = ({ data }) => {
  played += data.played ?? 0;
  if (data.dry) ahead = Math.min(ahead * 1.5, MOST_AHEAD);
  else if (data.near && ahead < NEAR_AHEAD) ahead = Math.min(ahead * 1.25, NEAR_AHEAD);
  pump();
};

/** @param {any} data */
const does = async (data) => {
  try {
    if (data.engine) engine = await Engine.made(data.engine);
    if (!engine) return;
    if (data.load) {
      rate = data.rate;
      const facts = engine.call("load", data.load, rate);
      self.postMessage({ facts: JSON.parse(facts), load: data.load });
      engine.call("tell_midi", null, Number(midi));
      settle();
    }
    if (data.act) {
      const said = engine.call("act", data.act);
      // What begins to play waits for its way to the loudspeaker.
      if (!data.plays) settle();
      self.postMessage({ said, act: data.act });
    }
    if ("midi" in data) {
      midi = data.midi;
      if (engine.parts.tell_midi(Number(midi)) && midi) tell();
    }
    if ("sink" in data) {
      sink = data.sink;
      [sent, played] = [0, 0];
      if (sink) sink.onmessage = heard;
      pump();
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

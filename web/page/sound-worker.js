// The worker that plays: it keeps the sound a little ahead of what is heard, and does what hands ask.
import { Engine } from "./engine.js";

/** Frames that are made at a time. */
const PIECE = 512;
/** Pieces that are handed on at once, where more than one is wanted: each word costs a slow audio thread some of its time, and
 * what begins with the first of many words is dry before it has read the others. */
const AT_ONCE = 5;
/** How far ahead of what is heard sound is made, in seconds; more on a slow device, more on one that ran dry, and somewhat
 * more on one that nearly did: then nothing was heard of it yet. At first it is further, since a page that begins has most
 * to do. */
const [LEAST_AHEAD, NEAR_AHEAD, FIRST_AHEAD, MOST_AHEAD] = [0.055, 0.2, 0.4, 0.5];
/** After so many seconds without a near thing it comes nearer again by this share, so that hands are soon heard; on a device
 * that makes sound twice as fast as a slow one after fewer. */
const [CALM, FAST_CALM, NEARER] = [8, 0.25, 0.85];
/** What is left of it where it was a near thing: a delay twice as long would have been heard. */
const NEAR_SHARE = 1 / 2;

/** @type {Engine | null} */
let engine = null;
/** @type {MessagePort | null} */
let sink = null;
let rate = 48000;
let ahead = FIRST_AHEAD;
/** No nearer than these: what was once too near stays so, and what a device's speed asks for, as long as it does. */
let [nearest, wanted] = [LEAST_AHEAD, LEAST_AHEAD];
/** Seconds since the last near thing. */
let calm = 0;
/** True once as much waited as is to be ahead: while it is made, little of it waits, which is no near thing. */
let full = false;
/** Below how many times as fast as it plays a device is a slow one: the browser has more to do than play, and in bursts. */
const SLOW = 5;
/** Below how many times all that it is to be ahead at first is made before any of it is heard. */
const VERY_SLOW = 2.5;
/** Seconds of sound by which it is told how fast a device makes them. */
const TIMED = 0.5;
/** Seconds of sound made since that was told, and the milliseconds they took. */
let [timed, took] = [0, 0];
/** How long it has to be calm. */
let patience = CALM;
/** Seconds of sound that are made unheard before the first touch: by then browsers have compiled well what they find busy. */
const WARMED = 2;
let warm = false;
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

/** Pieces of sound as one. @param {any[]} pieces */
const joined = (pieces) => {
  if (pieces.length === 1) return pieces[0];
  const [left, right] = [0, 1].map(() => new Float32Array(PIECE * pieces.length));
  pieces.forEach((one, index) => {
    left.set(one.left, index * PIECE);
    right.set(one.right, index * PIECE);
  });
  return { from: pieces[0].from, left, right };
};

/** Says that this device has not much time to spare. */
const slow = () => self.postMessage({ slow: true });

/** Makes sound further ahead from now on. @param {number} seconds */
const further = (seconds) => {
  if (seconds <= ahead) return;
  ahead = seconds;
  full = false;
  slow();
};

/** Makes what the sink wants by now. */
const pump = () => {
  const to = sink;
  if (!engine || !to) return;
  const [begun, from, made] = [performance.now(), sent, /** @type {any[]} */ ([])];
  const hand = () => {
    if (made.length === 0) return;
    const one = joined(made.splice(0));
    to.postMessage(one, [one.left.buffer, one.right.buffer]);
  };
  let goes = from > 0;
  while (sent - played < ahead * rate) {
    const since = performance.now();
    const next = piece();
    if (!next) break;
    made.push(next);
    sent += PIECE;
    timed += PIECE / rate;
    took += performance.now() - since;
    // The first sound is made at once, which tells how fast this goes.
    if (!goes && sent >= LEAST_AHEAD * rate) goes = (1000 * sent) / rate >= VERY_SLOW * (performance.now() - begun);
    if (goes && made.length >= AT_ONCE) hand();
  }
  hand();
  if (timed > TIMED) {
    const speed = (1000 * timed) / took;
    wanted = speed < SLOW ? NEAR_AHEAD : LEAST_AHEAD;
    patience = speed < 2 * SLOW ? CALM : FAST_CALM;
    if (speed < SLOW) slow();
    further(wanted);
    [timed, took] = [0, 0];
  }
  tell();
};

/** Plays unheard, a piece between other things, until enough is compiled or a touch comes: from the first bar on, since a
 * count-in is clicks alone. @param {string} load */
const warmUp = async (load) => {
  if (warm || !engine) return;
  warm = true;
  const other = await engine.another();
  other.call("load", JSON.stringify({ ...JSON.parse(load), countIn: 0 }), rate);
  other.call("act", "start");
  for (let frames = 0; frames < WARMED * rate && !sink; frames += PIECE) {
    other.render(PIECE);
    await new Promise((done) => { setTimeout(done, 0); });
  }
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
  calm += (data.played ?? 0) / rate;
  const near = data.fewest < ahead * rate * NEAR_SHARE;
  full ||= !near && Number.isFinite(data.fewest);
  if (data.dry) {
    calm = 0;
    further(Math.min(Math.max(ahead * 1.5, FIRST_AHEAD), MOST_AHEAD));
    nearest = ahead;
  } else if (near && full) {
    calm = 0;
    further(Math.min(ahead * 1.5, FIRST_AHEAD));
    nearest = Math.max(nearest, Math.min(ahead, NEAR_AHEAD));
  } else if (calm > patience && ahead > Math.max(nearest, wanted)) {
    ahead = Math.max(ahead * NEARER, nearest, wanted);
    calm = 0;
  }
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
      warmUp(data.load).catch((why) => self.postMessage({ wrong: String(why) }));
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
      [sent, played, full] = [0, 0, false];
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

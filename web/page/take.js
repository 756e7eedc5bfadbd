// Your take: recorded while the band plays, or out of a file, and its review.
import { held } from "./band.js";
import { keep, kept } from "./drawer.js";
import { Microphone } from "./microphone.js";
import { loadWorklet } from "./sound.js";
import { made, part, write } from "./stand.js";

/** A peak that is clearly somebody playing, and one that is cut off. */
const [CLEAR, FULL] = [0.02, 0.98];

/** Gaps of the band's sound, beyond one as it begins, from which on nothing is said while the player plays. */
const DISTURBED = 1;

/** @type {Promise<boolean> | null} */
let loaded = null;
/** The recorder's script is given to the audio thread once. @param {AudioContext} context @param {string} script */
const once = (context, script) => (loaded ??= loadWorklet(context, script));

/**
 * The lines of a review, as elements: headings, prose, and the table of the passes.
 * @param {string} text
 */
const laidOut = (text) => {
  const all = document.createDocumentFragment();
  for (const block of text.trim().split("\n\n")) {
    const lines = block.split("\n");
    if (block.startsWith("bars ")) {
      const table = made("pre", block);
      table.tabIndex = 0;
      table.setAttribute("aria-label", "Pass by pass");
      all.append(table);
      continue;
    }
    lines.forEach((line, index) => {
      if (line.startsWith("    ")) all.append(made("p", line.trim(), "command"));
      else if (line.startsWith("  ")) all.append(made("p", line.trim(), "finding"));
      else if (lines[index + 1]?.startsWith("  ")) all.append(made("h3", line));
      else all.append(made("p", line));
    });
  }
  return all;
};

/** What records and reviews. */
export class Taker {
  /**
   * @param {import("./band.js").Band} band
   * @param {{
   *   song: () => string, wish: () => object, begin: () => void, quiet: () => void, act: (words: string) => void,
   *   reviewed: (entry: any) => void,
   * }} page what the page knows and does
   */
  constructor(band, page) {
    this.band = band;
    this.page = page;
    /** @type {Microphone | null} */
    this.microphone = null;
    /** @type {Worker | null} */
    this.ear = null;
    /** Gaps of the band's sound when the microphone was opened. */
    this.gaps = 0;
    /** What it does now: nothing, "opens", "records", "clicks" or "hears". */
    this.busy = "";
    /** What was advised last. @type {{bars: [number, number] | null, speed: number} | null} */
    this.advice = null;
    part("record").addEventListener("click", () => this.press());
    part("measure").addEventListener("click", () => { if (this.busy === "") this.measure(); });
    part("recording").addEventListener("change", () => this.fromFile());
    part("follow-advice").addEventListener("click", () => this.follow());
    band.onnews = (news) => { if (this.busy === "records") this.ear?.postMessage({ news }); };
    band.sound.marked = (mark) => { if (this.busy === "records") this.ear?.postMessage({ mark }); };
    setInterval(() => this.level(), 100);
    this.stands();
  }

  /** Records, or stops and reviews. */
  press() {
    if (this.busy === "records") this.stop();
    else if (this.busy === "") this.record();
  }

  /** Shows what can be done now. */
  stands() {
    const records = this.busy === "records";
    write("record", records ? "Stop and review" : "Record yourself");
    part("record").setAttribute("aria-pressed", String(records));
    // What can't be done now keeps the keyboard's focus: a button that is disabled would lose it.
    part("record").setAttribute("aria-disabled", String(this.busy !== "" && !records));
    part("measure").setAttribute("aria-disabled", String(this.busy !== ""));
    part("recording").setAttribute("aria-disabled", String(this.busy !== ""));
    part("level").hidden = !this.microphone;
    document.body.classList.toggle("records", records);
  }

  /** @param {string} busy @param {string} words */
  tell(busy, words) {
    this.busy = busy;
    write("take-said", words);
    this.stands();
  }

  level() {
    if (!this.microphone) return;
    // Where the band runs dry, this device has enough to do with it.
    if (this.busy === "records" && this.band.sound.gaps > this.gaps + DISTURBED) {
      this.ear?.postMessage({ hush: true });
      this.noticed(null);
    }
    const { peak } = this.microphone;
    part("level").value = peak;
    write("level-said", peak >= FULL ? "too loud: it is cut off" : peak >= CLEAR ? "you are heard" : "quiet");
  }

  /**
   * How the player does, in a line on the stand.
   * @param {{line: string, missed: string} | null} told
   */
  noticed(told) {
    write("noticed", told?.line ?? "");
    write("missed", told?.missed ?? "");
  }

  /** A worker that hears. What it makes of it goes to `done`. @param {(data: any) => void} done */
  async open(done) {
    const ear = await this.band.another("ear-worker");
    ear.onmessage = ({ data }) => {
      if (data.wrong) this.close(data.wrong);
      else done(data);
    };
    ear.onerror = (event) => this.close(`Hearing broke off: ${event.message}`);
    this.ear = ear;
    return ear;
  }

  /** @param {string} words what is said of it */
  close(words) {
    this.microphone?.close();
    this.microphone = null;
    this.ear?.terminate();
    this.ear = null;
    this.noticed(null);
    const { sound } = this.band;
    if (!sound.running) sound.context.suspend();
    this.tell("", words);
  }

  /** @param {boolean} beside true for a player who plays with the band @param {(data: any) => void} done */
  async listens(beside, done) {
    const { context } = this.band.sound;
    this.microphone = await Microphone.open(context, held("recorder"), once);
    await context.resume();
    const ear = await this.open(done);
    const { port1, port2 } = new MessageChannel();
    if (beside) ear.postMessage({ load: this.band.loaded, news: this.band.log });
    const late = this.late() ?? this.microphone.guess();
    this.gaps = this.band.sound.gaps;
    ear.postMessage({ listen: { beside, late, rate: context.sampleRate, port: port2 } }, [port2]);
    this.microphone.listen(port1);
  }

  /** Records, and lets the band begin if it does not play. */
  async record() {
    this.tell("opens", "Opening the microphone…");
    try {
      await this.listens(true, (data) => ("noticed" in data ? this.noticed(data.noticed) : this.show(data)));
    } catch (why) {
      this.close(String(/** @type {any} */ (why).message ?? why));
      return;
    }
    const measured = this.late() !== null;
    this.tell("records", `${this.microphone?.name} hears you. ${measured ? "" : "How late it hears you was never measured, so early and late are not to be trusted. "}It is reviewed at the end of the song, or when you stop.`);
    this.page.begin();
  }

  /** How late this microphone hears, as it was measured, in milliseconds. */
  late() {
    const text = kept(`latency ${this.microphone?.name}`);
    const late = text === null ? NaN : Number.parseFloat(text);
    return Number.isFinite(late) && Math.abs(late) < 10000 ? late : null;
  }

  /** The band's song is over, or another one is taken up. */
  ended() {
    if (this.busy === "records") this.stop();
  }

  /** Records no more, and reviews. */
  stop() {
    const { sound, last } = this.band;
    const now = sound.now() ?? last?.barStart ?? 0;
    const late = this.late() ?? this.microphone?.guess() ?? 0;
    this.microphone?.close();
    this.microphone = null;
    this.noticed(null);
    this.tell("hears", "Hearing your take…");
    this.ear?.postMessage({ review: { late, now, song: this.page.song() } });
  }

  /** Reviews a recording that is a file. */
  async fromFile() {
    const file = part("recording").files[0];
    part("recording").value = "";
    if (!file || this.busy !== "") return;
    this.tell("hears", "Hearing the recording…");
    try {
      const bytes = await file.arrayBuffer();
      const head = new DataView(bytes);
      // A WAV file is taken at its own rate, as it is.
      const of = bytes.byteLength > 44 && head.getUint32(0) === 0x52494646 ? head.getUint32(24, true) : 48000;
      const decoder = new OfflineAudioContext(1, 1, Math.min(96000, Math.max(8000, of)));
      const sound = await decoder.decodeAudioData(bytes).catch(() => { throw new Error(`${file.name} is no sound that this browser can play.`); });
      const channels = Array.from({ length: sound.numberOfChannels }, (_, number) => sound.getChannelData(number));
      const ear = await this.open((data) => this.show(data));
      ear.postMessage({ sound: { channels, of: sound.sampleRate, wish: JSON.stringify(this.page.wish()) } });
    } catch (why) {
      this.close(String(/** @type {any} */ (why).message ?? why));
    }
  }

  /** @param {any} data */
  show({ reviewed }) {
    this.close("");
    this.advice = reviewed;
    const notes = reviewed.notes.map((/** @type {string} */ note) => made("p", note, "note"));
    part("review").replaceChildren(...notes, laidOut(reviewed.text));
    part("review-view").hidden = false;
    const { bars, speed } = reviewed;
    part("follow-advice").hidden = !bars && speed === 100;
    part("review-title").focus();
    this.page.reviewed(reviewed.entry);
  }

  /** Sets the band to what was advised. */
  follow() {
    if (!this.advice) return;
    const { bars, speed } = this.advice;
    if (bars) this.page.act(`loop ${bars[0]}-${bars[1]}`);
    this.page.act(`speed ${speed}`);
    if (bars) this.page.act(`bar ${bars[0]}`);
  }

  /** Measures how late the microphone hears what is played. */
  async measure() {
    this.page.quiet();
    this.tell("opens", "Opening the microphone…");
    try {
      await this.listens(false, ({ delay }) => {
        keep(`latency ${this.microphone?.name}`, String(delay.milliseconds));
        this.close(`${this.microphone?.name} hears what is played ${delay.milliseconds.toFixed(1)} ms late (${delay.heard} clicks, within ${delay.spread.toFixed(1)} ms of each other). That is taken off from now on; with other headphones, measure again.`);
      });
      this.tell("clicks", "Be quiet for ten seconds: it clicks ten times, and the microphone listens. Hold one earpiece of the headphones to it.");
      const clicks = await this.microphone?.clicks();
      this.ear?.postMessage({ clicks });
    } catch (why) {
      this.close(String(/** @type {any} */ (why).message ?? why));
    }
  }
}

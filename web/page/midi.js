// MIDI, where the browser has it: the band played by an instrument of your own, and pedals that act.
import { keep, kept } from "./drawer.js";
import { made, part, write } from "./stand.js";

/** A pedal is pressed from here on, of 127. */
const PRESSED = 64;

/** What each pedal does, by its message. @returns {Record<string, string>} */
const taught = () => {
  try {
    return JSON.parse(kept("pedals") ?? "{}");
  } catch {
    return {};
  }
};

/** A message's name, if it is a pedal pressed: a note, a controller or a program of a channel. @param {Uint8Array} bytes */
const pressed = ([status, first, value]) => {
  const kind = status >> 4;
  if (kind === 9 && value > 0) return `note ${first} of channel ${(status & 15) + 1}`;
  if (kind === 11 && value >= PRESSED) return `controller ${first} of channel ${(status & 15) + 1}`;
  if (kind === 12) return `program ${first} of channel ${(status & 15) + 1}`;
  return "";
};

/** Instruments and pedals. */
export class Midi {
  /**
   * @param {import("./band.js").Band} band
   * @param {(words: string) => void} act
   */
  constructor(band, act) {
    this.band = band;
    this.act = act;
    /** @type {any} */
    this.access = null;
    /** @type {any} */
    this.output = null;
    this.teaching = false;
    const there = "requestMIDIAccess" in navigator;
    part("midi-open").disabled = !there;
    if (!there) write("midi-said", "This browser has no MIDI.");
    part("midi-open").addEventListener("click", () => this.open());
    part("midi-out").addEventListener("change", () => this.choose(part("midi-out").value));
    part("teach").addEventListener("click", () => {
      this.teaching = !this.teaching;
      part("teach").setAttribute("aria-pressed", String(this.teaching));
      write("midi-said", this.teaching ? "Press the pedal." : "");
    });
    part("forget-pedals").addEventListener("click", () => {
      keep("pedals", null);
      this.show();
    });
    band.onsent = (lines) => this.send(lines);
    addEventListener("pagehide", () => this.silence());
    this.show();
  }

  /** Asks the browser. To be called by a hand's touch. */
  async open() {
    try {
      this.access = await /** @type {any} */ (navigator).requestMIDIAccess();
    } catch {
      write("midi-said", "The browser does not let this page use MIDI.");
      return;
    }
    this.access.onstatechange = () => this.devices();
    this.devices();
    write("midi-said", "");
  }

  devices() {
    for (const input of this.access.inputs.values()) input.onmidimessage = (/** @type {any} */ event) => this.hear(event.data);
    const outputs = [...this.access.outputs.values()];
    const option = (/** @type {string} */ value, /** @type {string} */ words) => {
      const element = /** @type {HTMLOptionElement} */ (made("option", words));
      element.value = value;
      return element;
    };
    part("midi-out").replaceChildren(option("", "the page's own sound"), ...outputs.map(({ id, name }) => option(id, name)));
    const gone = this.output && !outputs.some(({ id }) => id === this.output.id);
    if (gone) this.choose("");
    else part("midi-out").value = this.output?.id ?? "";
    part("midi-devices").hidden = false;
  }

  /** @param {string} id nothing for the page's own sound */
  choose(id) {
    this.silence();
    this.output = id ? this.access.outputs.get(id) ?? null : null;
    this.band.sound.out.gain.value = this.output ? 0 : 1;
    this.band.player.postMessage({ midi: Boolean(this.output) });
    part("midi-out").value = this.output?.id ?? "";
  }

  /** Hands on what the band plays, each message at its time. @param {string[]} lines */
  send(lines) {
    if (!this.output) return;
    const { sound } = this.band;
    for (const line of lines) {
      const [frame, ...bytes] = line.split(" ").map(Number);
      this.output.send(bytes, sound.when(frame));
    }
  }

  silence() {
    if (!this.output) return;
    for (let channel = 0; channel < 16; channel += 1) this.output.send([0xB0 | channel, 123, 0]);
  }

  /** @param {Uint8Array} bytes */
  hear(bytes) {
    const pedal = pressed(bytes);
    if (!pedal) return;
    if (this.teaching) {
      keep("pedals", JSON.stringify({ ...taught(), [pedal]: part("teach-what").value }));
      this.teaching = false;
      part("teach").setAttribute("aria-pressed", "false");
      write("midi-said", `The pedal (${pedal}) is taught.`);
      this.show();
      return;
    }
    const words = taught()[pedal];
    if (words) this.act(words);
  }

  /** Shows what was taught. */
  show() {
    const rows = Object.entries(taught()).map(([pedal, words]) => made("li", `${pedal}: ${words}`));
    part("pedals").replaceChildren(...rows);
    part("forget-pedals").disabled = rows.length === 0;
  }

  /** What a pedal can be taught. @param {{word: string, says: string}[]} bindings */
  takeActions(bindings) {
    part("teach-what").replaceChildren(...bindings.map(({ word, says }) => {
      const option = /** @type {HTMLOptionElement} */ (made("option", says));
      option.value = word;
      return option;
    }));
  }
}

// The band as the page sees it: two workers, the sound, and words between them.
import { Sound } from "./sound.js";

/**
 * What the page holds under a name, as text.
 * @param {string} id
 */
export const held = (id) => document.getElementById(id)?.textContent ?? "";

/** The engine's bytes, unpacked. */
const unpacked = async () => {
  const packed = Uint8Array.from(atob(held("engine").trim()), (sign) => sign.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).arrayBuffer();
};

/** @param {string} id */
const worker = (id) => {
  const url = URL.createObjectURL(new Blob([held(id)], { type: "text/javascript" }));
  return new Worker(url);
};

/** What the page wants to be told. */
export class Listener {
  facts(/** @type {any} */ _) {}
  view(/** @type {any} */ _) {}
  chart(/** @type {any} */ _) {}
  tab(/** @type {any} */ _) {}
  said(/** @type {string} */ _) {}
  wrong(/** @type {string} */ _) {}
  checked(/** @type {string} */ _) {}
  midi(/** @type {Uint8Array<ArrayBuffer>} */ _) {}
}

/** The band. */
export class Band {
  /** @param {Listener} listener */
  constructor(listener) {
    this.listener = listener;
    this.player = worker("sound-worker");
    this.eye = worker("stand-worker");
    this.sound = new Sound(this.player, held("feeder"), (words) => listener.said(words));
    this.looking = false;
    this.stale = false;
    this.begun = false;
    /** @type {any} */
    this.last = null;
    this.player.onmessage = ({ data }) => {
      if (data.wrong) listener.wrong(data.wrong);
      if (data.facts) {
        this.eye.postMessage({ load: data.load });
        listener.facts(data.facts);
        this.look();
      }
      if (data.news) {
        this.eye.postMessage({ news: data.news });
        this.look();
      }
      if (data.said) listener.said(data.said);
    };
    for (const other of [this.player, this.eye]) {
      other.onerror = (event) => listener.wrong(`The band broke off: ${event.message}`);
    }
    this.eye.onmessage = ({ data }) => {
      if (data.wrong) listener.wrong(data.wrong);
      if ("view" in data) {
        this.looking = false;
        if (data.view) {
          this.last = data.view;
          listener.view(data.view);
        }
        if (this.stale) this.look();
      }
      if ("checked" in data) listener.checked(data.checked);
      if (data.midi) listener.midi(data.midi);
      if (data.chart) listener.chart(data.chart);
      if ("tab" in data) listener.tab(data.tab);
    };
  }

  /** Makes both engines ready. */
  async ready() {
    const bytes = await unpacked();
    this.player.postMessage({ engine: bytes });
    this.eye.postMessage({ engine: bytes });
  }

  /**
   * Takes up a song with wishes.
   * @param {object} asked
   */
  load(asked) {
    this.begun = false;
    this.player.postMessage({ load: JSON.stringify(asked), rate: this.sound.rate });
  }

  /**
   * Looks a song through without playing it.
   * @param {object} asked
   */
  check(asked) {
    this.eye.postMessage({ check: JSON.stringify(asked) });
  }

  /**
   * Makes a MIDI file.
   * @param {object} asked
   */
  midi(asked) {
    this.eye.postMessage({ midi: JSON.stringify(asked) });
  }

  /**
   * Asks for something.
   * @param {string} words
   */
  act(words) {
    const plays = words === "count-in" || words === "pause" || words.startsWith("start");
    if (plays) {
      this.begun = true;
      this.sound.start();
    }
    this.player.postMessage({ act: words, plays });
  }

  /**
   * Begins after so many bars of clicks, or goes on, or pauses. To be called by a hand's touch.
   * @param {number} bars
   */
  go(bars) {
    const over = this.last?.standing === "end";
    this.act(this.begun && !over ? "pause" : `start ${bars}`);
  }

  /** Looks what is to be seen now, unless it is being looked already. */
  look() {
    this.stale = this.looking;
    if (this.looking) return;
    this.looking = true;
    this.eye.postMessage({ at: this.sound.now() });
  }
}

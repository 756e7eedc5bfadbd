// The band as the page sees it: two workers, the sound, and words between them.
import { Sound } from "./sound.js";
import { fromLetters, unpacked } from "./unpack.js";

/**
 * What the page holds under a name, as text.
 * @param {string} id
 */
export const held = (id) => document.getElementById(id)?.textContent ?? "";

/** The engine's bytes. @type {Uint8Array<ArrayBuffer> | null} */
let bytes = null;
const engine = () => (bytes ??= unpacked(fromLetters(held("engine").trim())));

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
  progress(/** @type {string} */ _) {}
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
    /** True once the sound was made hardly in time: others' work waits for it then. */
    this.slow = false;
    /** @type {any} */
    this.last = null;
    /** What is loaded, and all that happened since: for whoever begins to follow later. */
    this.loaded = "";
    /** @type {string[]} */
    this.log = [];
    /** Told of what happens. @type {(news: string[]) => void} */
    this.onnews = () => {};
    /** Told of what is played as MIDI. @type {(lines: string[]) => void} */
    this.onsent = () => {};
    this.player.onmessage = ({ data }) => {
      if (data.wrong) listener.wrong(data.wrong);
      if (data.facts) {
        [this.loaded, this.log] = [data.load, []];
        this.eye.postMessage({ load: data.load });
        listener.facts(data.facts);
        this.look();
      }
      if (data.news) {
        this.log.push(...data.news);
        this.onnews(data.news);
        this.eye.postMessage({ news: data.news });
        this.look();
      }
      if (data.slow) this.slow = true;
      if (data.said) listener.said(data.said);
      if (data.sent) this.onsent(data.sent);
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
      if (data.progress) listener.progress(data.progress);
      if (data.chart) listener.chart(data.chart);
      if ("tab" in data) listener.tab(data.tab);
    };
  }

  /** Makes both engines ready. */
  async ready() {
    this.player.postMessage({ engine: engine() });
    this.eye.postMessage({ engine: engine() });
  }

  /** Another worker with an engine of its own. @param {string} id its script @returns {Promise<Worker>} */
  async another(id) {
    const other = worker(id);
    other.postMessage({ engine: engine() });
    return other;
  }

  /**
   * Makes a file beside what is played, in a worker that ends with it.
   * @param {Record<string, object>} what a name of what is made, and the wishes
   * @returns {Promise<Uint8Array<ArrayBuffer>>}
   */
  async made(what) {
    const maker = await this.another("ear-worker");
    try {
      return await new Promise((done, fail) => {
        maker.onmessage = ({ data }) => (data.wrong ? fail(new Error(data.wrong)) : done(data.made));
        maker.onerror = (event) => fail(new Error(event.message));
        maker.postMessage({ make: Object.keys(what)[0], wish: JSON.stringify(Object.values(what)[0]) });
      });
    } finally {
      maker.terminate();
    }
  }

  /** Asks for takes in words. @param {string} lines */
  progress(lines) {
    this.eye.postMessage({ progress: lines });
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

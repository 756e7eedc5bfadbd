// Runs in the browser's audio thread: hands out the sound that the worker made.

/** Quanta of sound between two words to the worker, and to the page. */
const [TOLD_EVERY, SHOWN_EVERY] = [4, 16];

class Feeder extends AudioWorkletProcessor {
  constructor() {
    super();
    /** @type {{from: number, left: Float32Array, right: Float32Array}[]} */
    this.pieces = [];
    this.at = 0;
    this.quanta = 0;
    this.played = 0;
    /** Frames that wait. */
    this.waiting = 0;
    /** The fewest of them since the last word to the worker. */
    this.fewest = Infinity;
    this.dry = true;
    /** @type {MessagePort | null} */
    this.worker = null;
    this.port.onmessage = ({ data }) => {
      if (!data.worker) return;
      this.pieces = [];
      this.at = 0;
      this.played = 0;
      this.waiting = 0;
      this.dry = true;
      this.worker = data.worker;
      data.worker.onmessage = (/** @type {MessageEvent} */ event) => {
        this.pieces.push(event.data);
        this.waiting += event.data.left.length;
      };
    };
  }

  /** @param {Float32Array[][]} _ @param {Float32Array[][]} outputs */
  process(_, outputs) {
    const [left, right] = outputs[0];
    let done = 0;
    let first = -1;
    while (done < left.length && this.pieces.length > 0) {
      const piece = this.pieces[0];
      if (first < 0) first = piece.from + this.at - done;
      const count = Math.min(left.length - done, piece.left.length - this.at);
      left.set(piece.left.subarray(this.at, this.at + count), done);
      (right ?? left).set(piece.right.subarray(this.at, this.at + count), done);
      done += count;
      this.at += count;
      if (this.at === piece.left.length) {
        this.pieces.shift();
        this.at = 0;
      }
    }
    this.played += done;
    this.waiting -= done;
    if (done > 0) this.fewest = Math.min(this.fewest, this.waiting);
    this.quanta += 1;
    const [ranDry, begins] = [done < left.length && !this.dry, this.dry && first >= 0];
    this.dry = done < left.length;
    if (ranDry || this.quanta % TOLD_EVERY === 0) {
      this.worker?.postMessage({ played: this.played, dry: ranDry, fewest: this.fewest });
      this.played = 0;
      this.fewest = Infinity;
      if (ranDry) this.port.postMessage({ dry: true });
    }
    if (begins || (first >= 0 && this.quanta % SHOWN_EVERY === 0)) {
      this.port.postMessage({ frame: first, time: currentTime });
    }
    return true;
  }
}

registerProcessor("openchair-feeder", Feeder);

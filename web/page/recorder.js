// Runs in the browser's audio thread: hands on what the microphone gives, with the frame that each block begins at.

/** Samples of a block. */
const BLOCK = 2048;

class Recorder extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(BLOCK);
    this.filled = 0;
    this.begins = 0;
    this.peak = 0;
    /** @type {MessagePort | null} */
    this.ear = null;
    this.port.onmessage = ({ data }) => { this.ear = data.ear; };
  }

  /** @param {Float32Array[][]} inputs */
  process([input]) {
    if (!this.ear) return true;
    if (this.filled === 0) this.begins = currentFrame;
    const samples = input[0];
    // A microphone that is gone is silent; time goes on.
    const quantum = samples ? samples.length : 128;
    for (let at = 0; at < quantum; at += 1) {
      const sample = samples ? samples[at] : 0;
      this.block[this.filled + at] = sample;
      this.peak = Math.max(this.peak, Math.abs(sample));
    }
    this.filled += quantum;
    if (this.filled === BLOCK) {
      this.ear.postMessage({ frame: this.begins, samples: this.block }, [this.block.buffer]);
      this.port.postMessage({ peak: this.peak });
      this.block = new Float32Array(BLOCK);
      [this.filled, this.peak] = [0, 0];
    }
    return true;
  }
}

registerProcessor("openchair-recorder", Recorder);

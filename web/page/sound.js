// The way from the worker to the loudspeaker, and what of it is heard now.

/** Pieces of sound that are scheduled ahead where there is no audio worklet, in seconds. */
const SCHEDULED = 0.25;

/**
 * Gives a script to the audio thread. False where there is none, as in pages that came over plain http, or where it
 * takes no script.
 * @param {AudioContext} context
 * @param {string} script
 */
export const loadWorklet = async (context, script) => {
  if (!context.audioWorklet) return false;
  // A page from disk may load it from its own letters alone, others from a blob as well.
  const blob = URL.createObjectURL(new Blob([script], { type: "text/javascript" }));
  const letters = `data:text/javascript,${encodeURIComponent(script)}`;
  let loaded = false;
  for (const url of [letters, blob]) {
    loaded ||= await context.audioWorklet.addModule(url).then(() => true, () => false);
  }
  URL.revokeObjectURL(blob);
  return loaded;
};

/** Where the sound goes. */
export class Sound {
  /**
   * @param {Worker} worker
   * @param {string} feeder the audio thread's script
   * @param {(words: string) => void} tell
   */
  constructor(worker, feeder, tell) {
    this.worker = worker;
    this.tell = tell;
    this.context = new AudioContext({ latencyHint: "interactive" });
    this.rate = this.context.sampleRate;
    /** A frame, and when it left for the loudspeaker. @type {{frame: number, time: number} | null} */
    this.mark = null;
    /** Told of every such mark. @type {(mark: {frame: number, time: number}) => void} */
    this.marked = () => {};
    this.gaps = 0;
    this.running = false;
    this.out = this.context.createGain();
    this.out.connect(this.context.destination);
    /** @type {Promise<AudioWorkletNode | null>} */
    this.node = this.made(feeder);
  }

  /** @param {string} feeder */
  async made(feeder) {
    if (!(await loadWorklet(this.context, feeder))) return null;
    const node = new AudioWorkletNode(this.context, "openchair-feeder", {
      numberOfInputs: 0, outputChannelCount: [2],
    });
    node.port.onmessage = ({ data }) => {
      if (data.dry) this.gaps += 1;
      else {
        this.mark = data;
        this.marked(data);
      }
    };
    node.connect(this.out);
    return node;
  }

  /** Lets it be heard. To be called by a hand's touch: browsers ask for that. */
  async start() {
    if (this.running) return;
    this.running = true;
    const resumed = this.context.resume();
    const { port1, port2 } = new MessageChannel();
    this.mark = null;
    const node = await this.node;
    if (node) node.port.postMessage({ worker: port1 }, [port1]);
    else this.schedule(port1);
    this.worker.postMessage({ sink: port2 }, [port2]);
    await resumed;
  }

  /** Stops hearing: a device that waits should sleep. */
  async stop() {
    if (!this.running) return;
    this.running = false;
    this.worker.postMessage({ sink: null });
    this.port?.close();
    this.port = null;
    await this.context.suspend();
  }

  /**
   * Where there is no audio worklet: pieces are scheduled one after the other.
   * @param {MessagePort} port
   */
  schedule(port) {
    /** @type {MessagePort | null} */
    this.port = port;
    let at = 0;
    port.onmessage = ({ data }) => {
      const { context } = this;
      const buffer = context.createBuffer(2, data.left.length, this.rate);
      buffer.copyToChannel(data.left, 0);
      buffer.copyToChannel(data.right, 1);
      const source = context.createBufferSource();
      source.buffer = buffer;
      source.connect(this.out);
      if (at < context.currentTime) {
        if (at > 0) this.gaps += 1;
        at = context.currentTime + SCHEDULED;
      }
      source.start(at);
      this.mark = { frame: data.from, time: at };
      const frames = data.left.length;
      // The worker stays as far ahead of this as it does of an audio thread.
      const wait = Math.max(0, at - context.currentTime - SCHEDULED);
      setTimeout(() => port.postMessage({ played: frames }), wait * 1000);
      at += frames / this.rate;
    };
  }

  /** When a frame of the band's is heard, on the clock of the page: now, where that is not known. @param {number} frame */
  when(frame) {
    if (!this.mark) return performance.now();
    const at = this.mark.time + (frame - this.mark.frame) / this.rate;
    const { contextTime = 0, performanceTime = 0 } = this.context.getOutputTimestamp?.() ?? {};
    // Where the browser says nothing of it, its device plays what it is given at once.
    if (!performanceTime) return performance.now() + 1000 * (at - this.context.currentTime);
    return performanceTime + 1000 * (at - contextTime);
  }

  /** What is heard now, in nanoseconds of the band's time; null if nothing is. */
  now() {
    if (!this.running || !this.mark) return null;
    const { context, mark } = this;
    const late = context.outputLatency || context.baseLatency || 0;
    const frame = mark.frame + (context.currentTime - late - mark.time) * this.rate;
    return Math.max(0, (frame / this.rate) * 1e9);
  }
}

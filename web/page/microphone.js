// The microphone: opened as it is, without what browsers do to voices, and measured once against the loudspeaker.

/** Clicks, the seconds between them, never twice the same, and the silence about them. */
const [CLICKS, APART, UNEVEN, BEFORE, AFTER] = [10, 0.73, 0.013, 1.5, 0.9];

/** Why there is no microphone, in words that help. @param {any} why */
const refused = (why) => {
  if (why?.name === "NotAllowedError") return "The browser does not let this page hear the microphone: allow it at the address line or in the settings, and touch again.";
  if (why?.name === "NotFoundError") return "There is no microphone.";
  return `The microphone can't be opened: ${why?.message ?? why}`;
};

/** A microphone that is open. */
export class Microphone {
  /**
   * @param {AudioContext} context
   * @param {MediaStream} stream
   * @param {AudioWorkletNode} node
   */
  constructor(context, stream, node) {
    this.context = context;
    this.stream = stream;
    this.node = node;
    this.name = stream.getAudioTracks()[0]?.label || "microphone";
    /** How loud it is now, 0 to 1. */
    this.peak = 0;
    node.port.onmessage = ({ data }) => { this.peak = Math.max(data.peak, this.peak * 0.9); };
  }

  /**
   * Opens it. To be called by a hand's touch.
   * @param {AudioContext} context
   * @param {string} recorder the audio thread's script
   * @param {(context: AudioContext, script: string) => Promise<boolean>} load
   */
  static async open(context, recorder, load) {
    if (!navigator.mediaDevices?.getUserMedia || !context.audioWorklet) {
      throw new Error("Browsers give no microphone to a page that came over plain http. Save the page on this device and open it from there, or have it served over https.");
    }
    const audio = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 };
    const stream = await navigator.mediaDevices.getUserMedia({ audio }).catch((why) => { throw new Error(refused(why)); });
    if (!(await load(context, recorder))) throw new Error("This browser can't hear in the audio thread.");
    const source = context.createMediaStreamSource(stream);
    const node = new AudioWorkletNode(context, "openchair-recorder", { numberOfOutputs: 1, channelCount: 1, channelCountMode: "explicit" });
    source.connect(node);
    // It is silent; but browsers run what leads to the loudspeaker alone.
    node.connect(context.destination);
    return new Microphone(context, stream, node);
  }

  /** Hands what it hears to a worker's port. @param {MessagePort} port */
  listen(port) {
    this.node.port.postMessage({ ear: port }, [port]);
  }

  /** Plays clicks, and gives the times at which they were played, on the audio thread's clock, when all are over. */
  async clicks() {
    const { context } = this;
    await context.resume();
    const length = Math.round(0.02 * context.sampleRate);
    const click = context.createBuffer(1, length, context.sampleRate);
    const samples = click.getChannelData(0);
    for (let at = 0; at < length; at += 1) {
      samples[at] = 0.7 * Math.exp(-at / (0.003 * context.sampleRate)) * Math.cos((2 * Math.PI * 2000 * at) / context.sampleRate);
    }
    const begun = context.currentTime + BEFORE;
    const times = Array.from({ length: CLICKS }, (_, at) => begun + at * APART + ((at * at) % 7) * UNEVEN);
    for (const time of times) {
      const source = context.createBufferSource();
      source.buffer = click;
      source.connect(context.destination);
      source.start(time);
    }
    const end = times[CLICKS - 1] + AFTER;
    while (context.currentTime < end) await new Promise((done) => setTimeout(done, 50));
    return times;
  }

  /** How late it hears what is played, by the devices' own words: a guess, in milliseconds. */
  guess() {
    const settings = /** @type {any} */ (this.stream.getAudioTracks()[0]?.getSettings() ?? {});
    return 1000 * ((this.context.outputLatency || 0) + (this.context.baseLatency || 0) + (settings.latency ?? 0));
  }

  close() {
    this.node.port.postMessage({ ear: null });
    this.node.disconnect();
    for (const track of this.stream.getTracks()) track.stop();
  }
}

// The band's engine: WebAssembly with buffers of bytes for what is asked and what is answered.

/** One engine. Each worker has its own. */
export class Engine {
  /** @param {WebAssembly.Module} module @param {WebAssembly.Exports} parts */
  constructor(module, parts) {
    this.module = module;
    /** @type {any} */
    this.parts = parts;
  }

  /** @param {BufferSource} bytes what `make web` built, unpacked */
  static async made(bytes) {
    const { module, instance } = await WebAssembly.instantiate(bytes, {});
    return new Engine(module, instance.exports);
  }

  /** One more of the same, with nothing loaded: what the browser has compiled well for one, it has for the other. */
  async another() {
    return new Engine(this.module, (await WebAssembly.instantiate(this.module, {})).exports);
  }

  /** @param {string} text */
  ask(text) {
    const bytes = new TextEncoder().encode(text);
    const place = this.parts.asked(bytes.length);
    new Uint8Array(this.parts.memory.buffer, place, bytes.length).set(bytes);
  }

  /** The last answer. Looked up anew each time: memory may have grown and moved. */
  answer() {
    const { memory, answer, answer_length } = this.parts;
    return new TextDecoder().decode(new Uint8Array(memory.buffer, answer(), answer_length()));
  }

  /** The last answer as bytes. */
  bytes() {
    const { memory, answer, answer_length } = this.parts;
    return new Uint8Array(memory.buffer, answer(), answer_length()).slice();
  }

  /**
   * Calls by a name, after a text if there is one.
   * @param {string} name
   * @param {string | null} [text]
   * @param {...number} numbers
   * @returns {string} the answer
   */
  call(name, text = null, ...numbers) {
    if (text !== null) this.ask(text);
    const well = this.parts[name](...numbers);
    const answer = this.answer();
    if (!well) throw new Error(answer);
    return answer;
  }

  /**
   * The next frames of sound.
   * @param {number} frames
   */
  render(frames) {
    const place = this.parts.render(frames);
    const both = new Float32Array(this.parts.memory.buffer, place, 2 * frames);
    return { left: both.slice(0, frames), right: both.slice(frames) };
  }
}

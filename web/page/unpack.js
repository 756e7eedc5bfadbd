// The engine's bytes out of letters: a quarter more of them than bytes, and LZMA in those, which browsers don't unpack by
// themselves. It is a fifth smaller than what they do unpack. The method is Igor Pavlov's, as his specification tells it
// ("LZMA specification (draft)", 2013, in the public domain); names are its names.

/** The first of the letters, and the one that is left out: no script may hold it. */
const [FIRST, LEFT_OUT] = ["#".charCodeAt(0), "<".charCodeAt(0)];
/** How many letters there are; two of them stand for 13 bits. */
const LETTERS = 91;

/**
 * Bytes of letters, as `openchair page` wrote them.
 * @param {string} letters
 */
export const fromLetters = (letters) => {
  const bytes = new Uint8Array((letters.length >> 1) * 13 >> 3);
  const value = (/** @type {number} */ at) => {
    const sign = letters.charCodeAt(at);
    return sign - FIRST - Number(sign > LEFT_OUT);
  };
  let [bits, held, to] = [0, 0, 0];
  for (let at = 0; at + 1 < letters.length; at += 2) {
    held |= (LETTERS * value(at) + value(at + 1)) << bits;
    for (bits += 13; bits >= 8 && to < bytes.length; bits -= 8) {
      bytes[to++] = held & 255;
      held >>>= 8;
    }
  }
  return bytes;
};

/** Bits of a model that tells how likely a bit is 0, and how quickly it learns. */
const [MODEL_BITS, MOVE] = [11, 5];
/** Below this, the range takes another byte. */
const LOWEST = 1 << 24;
/** Bytes of its head. */
const HEAD_BYTES = 13;
/** What an end is told by; the shortest match, and the longest. */
const [END, SHORTEST, LONGEST] = [0xFFFFFFFF, 2, 273];

/** The decoder's range of numbers, and the place in what it reads. */
class RangeDecoder {
  /** @param {Uint8Array} bytes @param {number} from */
  constructor(bytes, from) {
    this.bytes = bytes;
    this.at = from + 5;
    this.range = 0xFFFFFFFF;
    this.code = new DataView(bytes.buffer, bytes.byteOffset).getUint32(from + 1);
  }

  fill() {
    if (this.range >= LOWEST) return;
    if (this.at >= this.bytes.length) throw new Error("The page is cut off: the band in it is not whole.");
    this.range = (this.range << 8) >>> 0;
    this.code = ((this.code << 8) | this.bytes[this.at++]) >>> 0;
  }

  /** @param {Uint16Array} models @param {number} at */
  bit(models, at) {
    const model = models[at];
    const bound = (this.range >>> MODEL_BITS) * model;
    const one = this.code >= bound;
    if (one) {
      this.range -= bound;
      this.code -= bound;
      models[at] = model - (model >>> MOVE);
    } else {
      this.range = bound;
      models[at] = model + (((1 << MODEL_BITS) - model) >>> MOVE);
    }
    this.fill();
    return Number(one);
  }

  /** Bits that nothing is known of. @param {number} count */
  direct(count) {
    let value = 0;
    for (let bit = 0; bit < count; bit += 1) {
      this.range >>>= 1;
      const one = this.code >= this.range;
      if (one) this.code -= this.range;
      value = (value << 1) | Number(one);
      this.fill();
    }
    return value >>> 0;
  }

  /** So many bits by a tree of models, the highest first. @param {Uint16Array} models @param {number} from @param {number} bits */
  tree(models, from, bits) {
    let node = 1;
    for (let bit = 0; bit < bits; bit += 1) node = (node << 1) | this.bit(models, from + node);
    return node - (1 << bits);
  }

  /** The lowest first. @param {Uint16Array} models @param {number} from @param {number} bits */
  reversed(models, from, bits) {
    let [node, value] = [1, 0];
    for (let at = 0; at < bits; at += 1) {
      const bit = this.bit(models, from + node);
      node = (node << 1) | bit;
      value |= bit << at;
    }
    return value;
  }
}

/** @param {number} count */
const models = (count) => new Uint16Array(count).fill(1 << (MODEL_BITS - 1));

/** How long a match is. */
class LengthDecoder {
  constructor() {
    this.choice = models(2);
    this.low = models(16 << 3);
    this.middle = models(16 << 3);
    this.high = models(1 << 8);
  }

  /** @param {RangeDecoder} range @param {number} place */
  read(range, place) {
    if (!range.bit(this.choice, 0)) return range.tree(this.low, place << 3, 3);
    if (!range.bit(this.choice, 1)) return 8 + range.tree(this.middle, place << 3, 3);
    return 16 + range.tree(this.high, 0, 8);
  }
}

/**
 * What was packed into a file of the kind `.lzma` that ends with a mark, as xz writes it.
 * @param {Uint8Array} packed
 */
export const unpacked = (packed) => {
  const [lc, lp, pb] = [packed[0] % 9, Math.floor(packed[0] / 9) % 5, Math.floor(packed[0] / 45)];
  let into = new Uint8Array(4 * packed.length + LONGEST);
  const range = new RangeDecoder(packed, HEAD_BYTES);
  const literals = models(0x300 << (lc + lp));
  const [isMatch, isRep, isRep0Long] = [models(12 << 4), models(12), models(12 << 4)];
  const [isRepG0, isRepG1, isRepG2] = [models(12), models(12), models(12)];
  const [slots, far, near] = [models(4 << 6), models(1 << 4), models(128)];
  const [matchLength, repLength] = [new LengthDecoder(), new LengthDecoder()];
  let [state, rep0, rep1, rep2, rep3, to] = [0, 0, 0, 0, 0, 0];

  const literal = () => {
    const before = to > 0 ? into[to - 1] : 0;
    const from = 0x300 * (((to & ((1 << lp) - 1)) << lc) + (before >> (8 - lc)));
    let sign = 1;
    if (state >= 7) {
      // What stands where the last match would go on is not what comes, but is near it.
      let match = into[to - rep0 - 1];
      while (sign < 0x100) {
        const its = (match >> 7) & 1;
        match <<= 1;
        const bit = range.bit(literals, from + ((1 + its) << 8) + sign);
        sign = (sign << 1) | bit;
        if (its !== bit) break;
      }
    }
    while (sign < 0x100) sign = (sign << 1) | range.bit(literals, from + sign);
    into[to++] = sign;
    state = state < 4 ? 0 : state < 10 ? state - 3 : state - 6;
  };

  /** @param {number} length */
  const distance = (length) => {
    const slot = range.tree(slots, Math.min(length, 3) << 6, 6);
    if (slot < 4) return slot;
    const bits = (slot >> 1) - 1;
    const base = ((2 | (slot & 1)) << bits) >>> 0;
    if (slot < 14) return base + range.reversed(near, base - slot, bits);
    return (base + range.direct(bits - 4) * 16 + range.reversed(far, 0, 4)) >>> 0;
  };

  for (;;) {
    if (to + LONGEST > into.length) {
      const more = new Uint8Array(2 * into.length);
      more.set(into);
      into = more;
    }
    const place = to & ((1 << pb) - 1);
    if (!range.bit(isMatch, (state << 4) + place)) {
      literal();
      continue;
    }
    let length = 0;
    if (range.bit(isRep, state)) {
      if (!range.bit(isRepG0, state)) {
        if (!range.bit(isRep0Long, (state << 4) + place)) {
          state = state < 7 ? 9 : 11;
          into[to] = into[to - rep0 - 1];
          to += 1;
          continue;
        }
      } else {
        let again = rep1;
        if (range.bit(isRepG1, state)) {
          again = rep2;
          if (range.bit(isRepG2, state)) [again, rep3] = [rep3, rep2];
          rep2 = rep1;
        }
        [rep1, rep0] = [rep0, again];
      }
      length = repLength.read(range, place);
      state = state < 7 ? 8 : 11;
    } else {
      [rep3, rep2, rep1] = [rep2, rep1, rep0];
      length = matchLength.read(range, place);
      state = state < 7 ? 7 : 10;
      rep0 = distance(length);
      if (rep0 === END) return into.slice(0, to);
    }
    if (rep0 >= to) throw new Error("The page is damaged: the band in it does not unpack.");
    const end = to + length + SHORTEST;
    // Byte by byte: a match may run on into what it makes.
    for (; to < end; to += 1) into[to] = into[to - rep0 - 1];
  }
};

// The banjo's tab: this bar and those after it, with a mark that moves from beat to beat.
import { part } from "./stand.js";

const SPACE = "http://www.w3.org/2000/svg";
/** A beat's width, the distance of strings, and what stands above and below them, in pixels. */
const [BEAT, STRING, ABOVE, BELOW, LEFT] = [76, 19, 26, 40, 10];

/** @type {any} */
let tab = null;
let shown = "";

/** @param {string} kind @param {Record<string, string | number>} at @param {string} [words] */
export const draw = (kind, at, words = "") => {
  const element = document.createElementNS(SPACE, kind);
  for (const [name, value] of Object.entries(at)) element.setAttribute(name, String(value));
  if (words) element.textContent = words;
  return element;
};

/** Quarters in a beat of the meters that songs have. @type {Record<string, number>} */
const QUARTERS = { "4/4": 1, "2/4": 1, "3/4": 1, "2/2": 2, "6/8": 1.5 };

/** Beats in a bar of a meter, those that `beat` counts: the song's where the bar has a length that no song has. @param {string} meter @param {string} song */
const beatsIn = (meter, song) => {
  const [count = 4, unit = 4] = meter.split("/").map(Number);
  return (4 * count) / unit / (QUARTERS[meter] ?? QUARTERS[song] ?? 1);
};

/** @param {any} bar @param {number} x */
const drawBar = (bar, x) => {
  const group = draw("g", { transform: `translate(${x} 0)` });
  const beats = beatsIn(bar.meter, tab.meter);
  const [width, height] = [beats * BEAT, 4 * STRING];
  for (let string = 0; string < 5; string += 1) {
    const y = ABOVE + string * STRING;
    group.append(draw("line", { x1: 0, x2: width, y1: y, y2: y, class: "string" }));
  }
  group.append(draw("line", { x1: 0, x2: 0, y1: ABOVE, y2: ABOVE + height, class: "barline" }));
  const place = (/** @type {number} */ beat) => LEFT + (beat - 1) * BEAT;
  for (const mark of bar.chords) {
    group.append(draw("text", { x: place(mark.beat), y: 15, class: "chord" }, mark.chord ?? "N.C."));
  }
  /** The pick before, by string. @type {Map<number, number>} */
  const last = new Map();
  /** Who picks at once, by place. @type {Map<number, string>} */
  const fingers = new Map();
  for (const pick of bar.picks) {
    const [px, y] = [place(pick.beat), ABOVE + (pick.string - 1) * STRING];
    const words = pick.choked ? `${pick.fret}·` : String(pick.fret);
    group.append(draw("rect", { x: px - 5, y: y - 8, width: 9 * words.length + 2, height: 16, class: "ground" }));
    group.append(draw("text", { x: px - 4, y: y + 5, class: "fret" }, words));
    if (pick.slur) {
      const from = last.get(pick.string) ?? px - BEAT / 4;
      const way = (/** @type {number} */ dy) => `M${from + 2} ${y - 8 + dy} Q${(from + px) / 2} ${y - 16 + dy} ${px} ${y - 8 + dy}`;
      group.append(draw("path", { d: way(0), class: "slur" }));
      const sign = { slide: "sl", hammer: "h", pull: "p" }[/** @type {"slide"} */ (pick.slur.kind)];
      group.append(draw("text", { x: (from + px) / 2 - 3, y: y - 12, class: "sign" }, sign));
    }
    last.set(pick.string, px);
    if (pick.finger) fingers.set(px, (fingers.get(px) ?? "") + pick.finger);
  }
  for (const [px, letters] of fingers) {
    group.append(draw("text", { x: px, y: ABOVE + height + 20, class: "finger" }, [...letters].sort().join("")));
  }
  if (bar.lick) group.append(draw("text", { x: LEFT, y: ABOVE + height + 36, class: "lick" }, bar.lick));
  return { group, width };
};

/** @param {any} next the tab as data; nothing where none is shown */
export const takeTab = (next) => {
  tab = next;
  shown = "";
};

/**
 * Shows the bars from the one that is heard.
 * @param {any} view
 */
export const showTab = (view) => {
  const root = part("tab");
  root.hidden = !tab;
  if (!tab) return;
  // On a stand that shows nothing else it is read from further away.
  const scale = document.body.classList.contains("only") ? 1.7 : 1;
  const wide = Math.max(root.clientWidth / scale, 200);
  const high = ABOVE + 4 * STRING + BELOW;
  const wanted = `${view.index} ${wide}`;
  if (wanted !== shown) {
    shown = wanted;
    const picture = draw("svg", {
      width: wide * scale, height: high * scale, viewBox: `0 0 ${wide} ${high}`, "aria-hidden": "true",
    });
    const mark = draw("rect", { id: "tab-mark", x: 0, y: ABOVE - 8, width: 22, height: 4 * STRING + 16, rx: 5 });
    picture.append(mark);
    let x = 4;
    for (let index = view.index; x < wide; index += 1) {
      // What goes round comes again from its beginning.
      const bar = tab.bars[index] ?? (view.loop ? tab.bars[index - tab.bars.length] : undefined);
      if (!bar) break;
      const { group, width } = drawBar(bar, x);
      if (x > 4 && x + width > wide + BEAT) group.setAttribute("class", "cut");
      picture.append(group);
      x += width;
    }
    root.replaceChildren(picture);
    const bar = tab.bars[view.index];
    const picks = (bar?.picks ?? []).map((/** @type {any} */ pick) => `string ${pick.string} fret ${pick.fret}`);
    root.setAttribute("aria-label", `Tablature, bar ${view.bar}: ${picks.join(", ") || "nothing"}`);
  }
  const beat = view.beat ?? 0;
  const mark = part("tab-mark");
  mark?.setAttribute("x", String(4 + LEFT + beat * BEAT - 11));
  mark?.setAttribute("visibility", view.standing === "play" ? "visible" : "hidden");
};

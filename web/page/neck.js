// The banjo's neck: where the left hand is in this bar, and what is picked on this beat.
import { keep, kept } from "./drawer.js";
import { part } from "./stand.js";
import { draw } from "./tab.js";

/** A fret's width, the strings' distance, what stands above them and left of the nut, in pixels. */
const [FRET, SPACED, TOP, NUT] = [46, 19, 14, 34];
/** Frets that are always shown; the fifth string begins at its peg. */
const [SHOWN, PEG] = [7, 5];

/** @type {any} */
let tabBars = null;
let seen = "";

/** @param {any} next the tab as data; nothing where none is shown */
export const takeNeck = (next) => {
  tabBars = next?.bars ?? null;
  seen = "";
};

/** Lets a button show it or not. */
export const neckButton = () => {
  const show = (/** @type {boolean} */ on) => {
    part("neck-on").setAttribute("aria-pressed", String(on));
    part("neck").hidden = !on;
    seen = "";
  };
  show(kept("neck") === "on");
  part("neck-on").addEventListener("click", () => {
    const on = part("neck").hidden;
    keep("neck", on ? "on" : null);
    show(on);
  });
};

/** @param {any} view */
export const showNeck = (view) => {
  const root = part("neck");
  if (root.hidden || !tabBars) return;
  const beat = view.standing === "play" ? view.beat ?? 0 : -1;
  const wanted = `${view.index} ${beat}`;
  if (wanted === seen) return;
  seen = wanted;
  /** @type {any[]} */
  const picks = tabBars[view.index]?.picks ?? [];
  const frets = Math.max(SHOWN, ...picks.map((pick) => pick.fret + 1));
  const [wide, high] = [NUT + frets * FRET + 8, TOP + 4 * SPACED + 30];
  const picture = draw("svg", { viewBox: `0 0 ${wide} ${high}`, width: wide, height: high, "aria-hidden": "true" });
  const y = (/** @type {number} */ string) => TOP + (string - 1) * SPACED;
  for (let fret = 0; fret <= frets; fret += 1) {
    const x = NUT + fret * FRET;
    // The fifth string's part of the neck begins at its peg.
    const low = fret < PEG ? y(4) : y(5);
    picture.append(draw("line", { x1: x, x2: x, y1: y(1) - 3, y2: low + 3, class: fret === 0 ? "nut" : "wire" }));
    if ([3, 5, 7, 10, 12, 15, 17].includes(fret)) picture.append(draw("text", { x: x - FRET / 2 - 4, y: high - 6, class: "sign" }, String(fret)));
  }
  for (let string = 1; string <= 5; string += 1) {
    picture.append(draw("line", { x1: string === 5 ? NUT + PEG * FRET : NUT, x2: wide, y1: y(string), y2: y(string), class: "string" }));
  }
  /** Places of the hand, and whether they sound on this beat. @type {Map<string, {x: number, y: number, now: boolean, open: boolean}>} */
  const places = new Map();
  for (const pick of picks) {
    const nut = pick.string === 5 ? NUT + PEG * FRET : NUT;
    const x = pick.fret === 0 ? nut - 12 : NUT + (pick.fret - 0.5) * FRET;
    const name = `${pick.string} ${pick.fret}`;
    const now = Math.floor(pick.beat) - 1 === beat || places.get(name)?.now === true;
    places.set(name, { x, y: y(pick.string), now, open: pick.fret === 0 });
  }
  for (const { x, y: at, now, open } of places.values()) {
    picture.append(draw("circle", { cx: x, cy: at, r: open ? 5 : 8, class: `place${now ? " now" : ""}` }));
  }
  root.replaceChildren(picture);
  const held = [...new Set(picks.filter((pick) => pick.fret > 0).map((pick) => `string ${pick.string} fret ${pick.fret}`))];
  root.setAttribute("aria-label", `Neck, bar ${view.bar}: ${held.join(", ") || "open strings"}`);
};

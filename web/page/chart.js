// The chart: lines of bars to touch, with a mark on the one that is heard.
import { made, part } from "./stand.js";

/** @type {Map<number, HTMLElement>} */
let bars = new Map();
/** The bar that is marked now. @type {HTMLElement | null} */
let marked = null;
/** True if each bar is a stop of the Tab key's, as where two of them are to be chosen. */
let every = false;

/** How a share of a bar is written. @param {string} share */
const written = (share) => (share === "/" ? "∕" : share);

/** A bar in words, first those that are seen. @param {any} bar @param {string} section */
const words = (bar, section) => {
  const seen = [bar.number || "", bar.crooked ?? "", ...bar.shares.map(written)].filter(Boolean).join(" ");
  return `${seen}, ${section}${bar.sung ? ", sung" : ""}${bar.stops ? ", with stops" : ""}`;
};

/** What happens in each eighth note, as a thin row under the chords. @param {string} marks @param {string} kind */
const row = (marks, kind) => {
  const element = made("span", "", `eighths ${kind}`);
  element.setAttribute("aria-hidden", "true");
  for (const mark of marks) element.append(made("i", kind === "stops" ? { x: "✕", o: "○", "-": "–" }[mark] ?? "" : "", mark === "=" ? "on" : ""));
  return element;
};

/**
 * Writes the chart anew.
 * @param {any} chart
 * @param {(number: number) => void} touched
 */
export const showChart = (chart, touched) => {
  const root = part("chart");
  bars = new Map();
  marked = null;
  const whole = document.createDocumentFragment();
  let [pass, lines] = [-1, made("div")];
  for (const line of chart.lines) {
    const { label } = chart.passes[line.pass];
    if (line.pass !== pass) {
      pass = line.pass;
      const section = made("section", "", "pass");
      section.append(made("h3", label));
      lines = made("div", "", "lines");
      section.append(lines);
      whole.append(section);
    }
    const element = made("div", "", "line");
    element.setAttribute("role", "group");
    for (const bar of line.bars) {
      // What comes before the first bar can't be gone to.
      const button = made(bar.number > 0 ? "button" : "div", "", "bar");
      if (bar.number <= 0) button.setAttribute("role", "img");
      button.setAttribute("aria-label", words(bar, label));
      button.append(made("span", bar.number > 0 ? String(bar.number) : "", "number"), " ");
      if (bar.crooked) button.append(made("span", bar.crooked, "crooked"), " ");
      const shares = made("span", "", "shares");
      for (const share of bar.shares) shares.append(made("span", written(share)), " ");
      button.append(shares);
      if (bar.stops) button.append(row(bar.stops, "stops"));
      if (bar.sung) button.append(row(bar.sung, "sung"));
      if (bar.number > 0) {
        button.addEventListener("click", () => touched(bar.number));
        bars.set(bar.number, button);
      }
      element.append(button);
    }
    lines.append(element);
  }
  root.replaceChildren(whole);
  stops();
};

/**
 * Which bars the Tab key stops at: the one that is heard, for it leads to all others by the arrows; a chart of a hundred
 * bars would stand in the way of all that comes after it.
 */
const stops = () => {
  const one = marked ?? bars.values().next().value;
  for (const bar of bars.values()) bar.tabIndex = every || bar === one ? 0 : -1;
};

/** Lets the Tab key stop at every bar, or not. @param {boolean} on */
export const stopAtEach = (on) => {
  every = on;
  stops();
};

/** True where moving things are not wanted. */
const still = () => matchMedia("(prefers-reduced-motion: reduce)").matches;

/**
 * Moves the mark to the bar that is heard, and shows what goes round.
 * @param {any} view
 * @param {number | null} from the first bar of a loop that is being marked
 */
export const markChart = (view, from) => {
  const here = bars.get(view.bar) ?? null;
  if (here !== marked) {
    marked?.classList.remove("here");
    marked?.removeAttribute("aria-current");
    here?.classList.add("here");
    here?.setAttribute("aria-current", "true");
    const among = document.activeElement === marked;
    marked = here;
    stops();
    // Who goes from bar to bar by the arrows stays where the band is; what plays takes nobody along.
    if (among && here && view.standing !== "play") here.focus();
    const root = part("chart");
    if (here && view.standing === "play") {
      const [top, bottom] = [here.offsetTop - root.offsetTop, here.offsetTop - root.offsetTop + here.offsetHeight];
      if (top < root.scrollTop || bottom + here.offsetHeight > root.scrollTop + root.clientHeight) {
        root.scrollTo({ top: top - here.offsetHeight, behavior: still() ? "auto" : "smooth" });
      }
    }
  }
  const [first, last] = view.loop ?? [0, Infinity];
  for (const [number, bar] of bars) {
    bar.classList.toggle("outside", Boolean(view.loop) && (number < first || number > last));
    bar.classList.toggle("from", number === from);
  }
};

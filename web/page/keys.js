// The keyboard, and page-turning pedals, which are keyboards too. The same keys as `openchair play` has.
import { made, part } from "./stand.js";

/** What each key asks for. @type {Map<string, string>} */
const asks = new Map();

/**
 * Takes the keys from the engine, and says them in the page.
 * @param {{keys: string[], word: string, says: string}[]} bindings
 */
export const takeKeys = (bindings) => {
  asks.clear();
  const names = { " ": "Space", ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓", PageUp: "Page Up", PageDown: "Page Down" };
  const rows = bindings.map(({ keys, word, says }) => {
    for (const key of keys) asks.set(key, word);
    const row = made("li");
    keys.forEach((key) => row.append(made("kbd", names[/** @type {" "} */ (key)] ?? key), " "));
    row.append(says);
    return row;
  });
  part("keys").replaceChildren(...rows);
};

/**
 * Listens to the keyboard.
 * @param {(words: string) => void} act
 * @param {() => void} go
 */
export const listen = (act, go) => {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const target = /** @type {HTMLElement} */ (event.target);
    const kind = target.tagName;
    const typed = kind === "SELECT" || kind === "TEXTAREA" || (kind === "INPUT" && /** @type {any} */ (target).type !== "range");
    if (typed) return;
    const arrows = kind === "INPUT" && event.key.startsWith("Arrow");
    if (arrows) return;
    if (event.key === " ") {
      // A button that is focused is pressed by the space bar; all else plays.
      if (kind === "BUTTON" || kind === "SUMMARY") return;
      event.preventDefault();
      if (!event.repeat) go();
      return;
    }
    const words = asks.get(event.key);
    if (!words) return;
    event.preventDefault();
    act(words);
  });
};

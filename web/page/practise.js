// Speeds that climb from round to round, and changes of chords that are drilled.
import { made, part } from "./stand.js";

/** The speeds that climb, as the engine reads them. */
const ramp = () => ["from", "to", "step"].map((id) => part(`climb-${id}`).value || "0").join(":");

/**
 * Listens to what is practised.
 * @param {(more: object) => void} play takes up the song with more wishes, and begins
 * @param {() => string} bars what goes round
 */
export const practise = (play, bars) => {
  part("climb").addEventListener("click", () => play({ ramp: ramp(), bars: bars() }));
  part("drill").addEventListener("click", () => play({ ramp: ramp(), change: part("change").value }));
  part("whole").addEventListener("click", () => play({}));
};

/** Shows the changes that a song has. @param {{word: string, name: string, count: number}[]} changes */
export const showChanges = (changes) => {
  const before = part("change").value;
  part("change").replaceChildren(...changes.map(({ word, name, count }) => {
    const option = /** @type {HTMLOptionElement} */ (made("option", `${name}, ${count} times`));
    option.value = word;
    return option;
  }));
  if (changes.some(({ word }) => word === before)) part("change").value = before;
  part("drill").disabled = changes.length === 0;
};

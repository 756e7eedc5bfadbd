// A teacher's list: its sheet stands in the page, and each thing in it is played at a touch.
import { made, part } from "./stand.js";

/**
 * Puts what plays them at the things of a lesson, if the page has one.
 * @param {any[]} songs
 * @param {(index: number, more: object) => void} play takes up a song with more wishes, and begins
 */
export const showLesson = (songs, play) => {
  const sheet = part("sheet");
  sheet.hidden = sheet.children.length === 0;
  part("to-sheet").hidden = sheet.hidden;
  for (const place of sheet.querySelectorAll("[data-item]")) {
    const index = Number(place.dataset.item);
    const { speeds, level, banjo, changes, changeBars } = songs[index].practise;
    const row = (/** @type {string} */ name, /** @type {string} */ what, /** @type {object} */ more) => {
      const group = made("p", "", "row");
      group.setAttribute("role", "group");
      group.setAttribute("aria-label", what);
      if (name) group.append(made("span", name, "named"));
      for (const speed of speeds) {
        const button = made("button", `${speed} %`);
        button.setAttribute("aria-label", `${what} at ${speed} percent`);
        button.addEventListener("click", () => play(index, { speed, ...more }));
        group.append(button);
      }
      place.append(group);
    };
    row("", "Play along", {});
    if (banjo) row("with the banjo", "Play along with the banjo", { level });
    for (const [change, name] of changes) row(`drill ${name}`, `Drill ${name}`, { change, changeBars });
  }
};

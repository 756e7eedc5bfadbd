// The song's text: what is wrong with it is said as it is typed, and the band takes it up when it is asked to.
import { keep, kept, save } from "./drawer.js";
import { part, write } from "./stand.js";

/** How long nobody types before the text is looked through, in milliseconds. */
const PATIENCE = 400;

/** The text in the page, and what is done with it. */
export class Editor {
  /**
   * @param {(text: string) => void} check looks a text through
   * @param {() => void} play takes it up
   */
  constructor(check, play) {
    this.name = "";
    this.asCame = "";
    /** @type {number | undefined} */
    this.waiting = undefined;
    part("text").addEventListener("input", () => {
      keep(`song ${this.name}`, this.text());
      clearTimeout(this.waiting);
      this.waiting = setTimeout(() => check(this.text()), PATIENCE);
    });
    part("take-up").addEventListener("click", play);
    part("save-song").addEventListener("click", () => save(`${this.name}.toml`, this.text(), "text/plain"));
    part("as-came").addEventListener("click", () => {
      keep(`song ${this.name}`, null);
      part("text").value = this.asCame;
      check(this.asCame);
      play();
    });
  }

  /** @returns {string} */
  text() {
    return part("text").value;
  }

  /**
   * Opens a song: as it was left, or as it came.
   * @param {string} name
   * @param {string} text
   */
  open(name, text) {
    [this.name, this.asCame] = [name, text];
    part("text").value = kept(`song ${name}`) ?? text;
    this.said("");
  }

  /** @param {string} problems nothing if the text is sound */
  said(problems) {
    write("messages", problems || "The text is sound.");
    part("messages").classList.toggle("wrong", problems !== "");
    part("take-up").disabled = problems !== "";
  }
}

// The song's text: what is wrong with it is said as it is typed, and the band takes it up when it is asked to.
import { part, write } from "./stand.js";

/** How long nobody types before the text is looked through, in milliseconds. */
const PATIENCE = 400;

/** Where the browser keeps a text. Some keep nothing for a page from disk. @param {string} name */
const drawer = (name) => `openchair song ${name}`;

/** @param {string} name @returns {string | null} */
const kept = (name) => {
  try {
    return localStorage.getItem(drawer(name));
  } catch {
    return null;
  }
};

/** @param {string} name @param {string | null} text nothing to forget it */
const keep = (name, text) => {
  try {
    if (text === null) localStorage.removeItem(drawer(name));
    else localStorage.setItem(drawer(name), text);
  } catch {
    // It is still in the page, to be saved as a file.
  }
};

/**
 * Gives a file to the browser to save.
 * @param {string} name
 * @param {BlobPart} content
 * @param {string} kind
 */
export const save = (name, content, kind) => {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([content], { type: kind }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
};

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
      keep(this.name, this.text());
      clearTimeout(this.waiting);
      this.waiting = setTimeout(() => check(this.text()), PATIENCE);
    });
    part("take-up").addEventListener("click", play);
    part("save-song").addEventListener("click", () => save(`${this.name}.toml`, this.text(), "text/plain"));
    part("as-came").addEventListener("click", () => {
      keep(this.name, null);
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
    part("text").value = kept(name) ?? text;
    this.said("");
  }

  /** @param {string} problems nothing if the text is sound */
  said(problems) {
    write("messages", problems || "The text is sound.");
    part("messages").classList.toggle("wrong", problems !== "");
    part("take-up").disabled = problems !== "";
  }
}

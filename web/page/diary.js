// Takes over days: a few figures of each, kept in the browser, and saved as a file for a teacher.
import { keep, kept, save } from "./drawer.js";
import { part, write } from "./stand.js";

/** Takes that are kept at most: years of them. */
const MOST = 5000;

/** The lines that are kept. */
const lines = () => (kept("takes") ?? "").split("\n").filter(Boolean);

/** Now, by the player's own clock: `2026-03-01T18:30`. */
const clock = () => {
  const now = new Date();
  const local = new Date(now.getTime() - now.getTimezoneOffset() * 60000);
  return local.toISOString().slice(0, 16);
};

/** What is kept of takes. */
export class Diary {
  /** @param {(lines: string) => void} tell asks for the takes in words */
  constructor(tell) {
    this.tell = tell;
    part("save-takes").addEventListener("click", () => save("takes.jsonl", `${lines().join("\n")}\n`, "application/jsonl"));
    part("forget-takes").addEventListener("click", () => {
      if (!confirm("Forget all takes that this browser has kept?")) return;
      keep("takes", null);
      this.show();
    });
    part("days").addEventListener("toggle", () => { if (part("days").open) this.show(); });
  }

  /** Keeps a take, unless it is the last one reviewed again. @param {any} entry nothing where nobody was heard */
  add(entry) {
    if (!entry) return;
    const all = lines();
    const same = (/** @type {string} */ line) => {
      try {
        return JSON.stringify({ ...JSON.parse(line), at: "" }) === JSON.stringify({ ...entry, at: "" });
      } catch {
        return false;
      }
    };
    if (!same(all[all.length - 1] ?? "")) all.push(JSON.stringify({ ...entry, at: clock() }));
    const stays = keep("takes", all.slice(-MOST).join("\n"));
    write("days-said", stays ? "" : "This browser keeps nothing for this page: save the file before you close it.");
    this.show();
  }

  show() {
    const all = lines();
    part("save-takes").disabled = all.length === 0;
    part("forget-takes").disabled = all.length === 0;
    if (all.length > 0) this.tell(all.join("\n"));
    else this.said("No take was reviewed yet.");
  }

  /** @param {string} words */
  said(words) {
    write("takes", words);
  }
}

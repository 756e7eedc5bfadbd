// The engine's bytes, unpacked as a page does it.

import { readFileSync } from "node:fs";

// Some node takes a file called .js for no module.
const script = readFileSync(new URL("page/unpack.js", import.meta.url), "utf8");
const { unpacked } = await import(`data:text/javascript,${encodeURIComponent(script)}`);

/** @param {string} library the file that `make web` built */
export const engine = (library) => unpacked(readFileSync(library));

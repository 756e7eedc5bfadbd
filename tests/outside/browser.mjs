// What the checks of the page in a browser have in common: the browser, and what is said of what holds.

import { existsSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";

const BROWSERS = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];

/**
 * Starts a Chromium. Without one, or without playwright-core under the folder's node_modules, it says that `what` is not
 * checked, and ends well.
 * @param {string | undefined} folder
 * @param {string} what
 */
export const browsers = (folder, what) => {
  const skip = (why) => {
    console.error(`\n*** NOT CHECKED: ${what}: ${why} ***\n`);
    process.exit(0);
  };
  const executablePath = BROWSERS.find((path) => existsSync(path));
  if (!executablePath) skip("there is no chromium");
  let chromium;
  try {
    ({ chromium } = createRequire(join(resolve(folder ?? "."), "index.js"))("playwright-core"));
  } catch {
    skip(`there is no playwright-core in ${folder}`);
  }
  return async (...more) => chromium.launch({
    executablePath,
    args: [
      "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
      "--disable-component-update", "--disable-sync", "--autoplay-policy=no-user-gesture-required", ...more,
    ],
  });
};

/** What did not hold. @type {string[]} */
export const failures = [];

/** Says whether something holds. @param {string} what @param {boolean} well @param {unknown} more */
export const hold = (what, well, more = "") => {
  console.log(`${well ? "well" : "WRONG"}: ${what}${more === "" ? "" : `: ${more}`}`);
  if (!well) failures.push(what);
};

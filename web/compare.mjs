// Exports every song in every style twice, with the band as it is built for a browser and with the program, and holds
// that both give the same bytes: node web/compare.mjs web/band.wasm.lzma PROGRAM, from the folder that songs/ is in.
// With --own each song is taken in its own style alone, which takes seconds in place of minutes.

import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { engine } from "./engine.mjs";

const own = process.argv.includes("--own");
const [library, program] = process.argv.slice(2).filter((word) => word !== "--own");
const { instance } = await WebAssembly.instantiate(engine(library), {});
const { memory, asked, midi, answer, answer_length } = instance.exports;

const everybody = "bass,chop,guitar,banjo,fiddle,lead";
const levels = ["plain", "sixths", "lead-ins", "full"];

const files = (folder) =>
  readdirSync(folder)
    .filter((name) => name.endsWith(".toml"))
    .map((name) => join(folder, name));

/// What the library for a browser makes of it; null where a style does not go with a song.
function inBrowser({ song, style, band = "", sitOut = "", level = "", seed = 1 }) {
  const words = (list) => (list ? list.split(",") : []);
  const wish = {
    name: basename(song), song: readFileSync(song, "utf8"), style: basename(style, ".toml"), band: words(band),
    sitOut: words(sitOut), level: level || null, seed: String(seed),
  };
  const bytes = new TextEncoder().encode(JSON.stringify(wish));
  const place = asked(bytes.length);
  new Uint8Array(memory.buffer, place, bytes.length).set(bytes);
  const isFile = midi();
  // Looked up anew: the memory may have grown and moved.
  const made = Buffer.from(memory.buffer, answer(), answer_length());
  if (isFile) return Buffer.from(made);
  if (!/ has no bars in |and the song is in/.test(made)) throw new Error(`${song} in ${style}: ${made}`);
  return null;
}

/// What the program makes of it; null where it refuses.
function inProgram({ song, style, band = "", sitOut = "", level = "", seed = 1 }) {
  const call = ["export", song, "--style", style, "-o", "-", "--format", "mid", "--seed", String(seed)];
  if (band) call.push("--band", band);
  if (sitOut) call.push("--sit-out", sitOut);
  if (level) call.push("--with", "banjo", "--level", level);
  const done = spawnSync(program, call, { maxBuffer: 1 << 28 });
  if (done.error) throw done.error;
  return done.status === 0 ? done.stdout : null;
}

/// A song of so many passes that a pass's number shifted by 20 bits is past 32 of them.
function longSong(folder) {
  const song = join(folder, "long-way-round.toml");
  const form = Array(4200).fill(`"round: fiddle"`).join(", ");
  const text = `title = "The Long Way Round"\nkey = "G"\nmeter = "4/4"\ntempo = 120\nstyle = "boom-chick"\n`
    + `band = ["lead"]\nform = [${form}]\n\n[section.round]\nchords = """\n| G | D |\n"""\n`;
  writeFileSync(song, text);
  return song;
}

const folder = mkdtempSync(join(tmpdir(), "openchair-"));
let [same, refused] = [0, 0];
const different = [];
try {
  const wanted = [];
  for (const song of files("songs")) {
    for (const style of own ? [] : files("backing-styles")) {
      wanted.push({ song, style }, { song, style, band: everybody });
    }
    const [, name] = /^style *= *"(.*)"/m.exec(readFileSync(song, "utf8"));
    const style = `backing-styles/${name}.toml`;
    if (own) wanted.push({ song, style });
    for (const level of own ? levels.slice(-1) : levels) wanted.push({ song, style, sitOut: "banjo", level });
    for (const seed of own ? [7] : [0, 7, 2 ** 40]) wanted.push({ song, style, band: everybody, seed });
    wanted.push({ song, style, band: everybody, sitOut: "surprise" });
  }
  if (!own) wanted.push({ song: longSong(folder), style: "backing-styles/boom-chick.toml" });
  for (const wish of wanted) {
    const [here, there] = [inBrowser(wish), inProgram(wish)];
    if (here && there && here.equals(there)) same += 1;
    else if (!here && !there) refused += 1;
    else different.push(JSON.stringify(wish));
  }
} finally {
  rmSync(folder, { recursive: true });
}
const figures = `${same} files the same, ${refused} refused by both, ${different.length} differ`;
console.log(`in a browser as in the program: ${figures}`);
for (const wish of different.slice(0, 10)) console.error(`differs: ${wish}`);
process.exit(different.length > 0 || same === 0 ? 1 : 0);

// What the browser keeps for the page. Some keep nothing for a page from disk.

/** What is kept for as long as the page is open, where the browser keeps nothing. @type {Map<string, string>} */
const meanwhile = new Map();

/** @param {string} name @returns {string | null} */
export const kept = (name) => {
  try {
    return localStorage.getItem(`openchair ${name}`);
  } catch {
    return meanwhile.get(name) ?? null;
  }
};

/**
 * Keeps a text under a name. False if it is kept for as long as the page is open alone.
 * @param {string} name
 * @param {string | null} text nothing to forget it
 */
export const keep = (name, text) => {
  try {
    if (text === null) localStorage.removeItem(`openchair ${name}`);
    else localStorage.setItem(`openchair ${name}`, text);
    return true;
  } catch {
    if (text === null) meanwhile.delete(name);
    else meanwhile.set(name, text);
    return false;
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

// Weighings kept on this device until the studio has them: only a number, grams, a time and a key of each, one item
// for each, so that two open pages never overwrite one another. Each person's lie apart.
const WORD = "weighing.";
const memory = new Map();

function held() {
  try { return window.localStorage; } catch { return null; }
}

export function keys(who) {
  const own = who === undefined ? WORD : `${WORD}${who}.`;
  const found = [...memory.keys()].filter((name) => name.startsWith(own));
  const box = held();
  for (let n = 0; box && n < box.length; n += 1) {
    const name = box.key(n);
    if (name.startsWith(own)) found.push(name);
  }
  return [...new Set(found)].sort();
}

export function all(who) {
  const found = [];
  for (const name of keys(who)) {
    try {
      found.push({ name, ...(memory.get(name) ?? JSON.parse(held().getItem(name))) });
    } catch { /* taken away by another page meanwhile */ }
  }
  return found;
}

// Returns whether the device really keeps it; where it can't, it lasts as long as the page.
export function put(name, what) {
  try {
    held().setItem(name, JSON.stringify(what));
    memory.delete(name);
    return true;
  } catch {
    memory.set(name, what);
    return false;
  }
}

export function drop(name) {
  memory.delete(name);
  try { held().removeItem(name); } catch { /* it never was there */ }
}

export function name(who, at, key) {
  return `${WORD}${who}.${String(at).padStart(14, "0")}.${key.slice(0, 8)}`;
}

// crypto.randomUUID wants a secure page, and a phone in the shop reads this one over plain http.
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(18));
  return btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_");
}

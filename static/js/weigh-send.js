// Sends what waits, one after the other and in order, whenever there is a signal. What the studio refuses stays, with
// what was typed, until it is mended; what it never answered is sent again under the same key and counts once.
import * as kept from "./weigh-kept.js";
import { toGrams } from "./weigh-sums.js";

const AGAIN_MS = 4000;
const LONGEST_MS = 15000;

export class Sender {
  constructor({ url, who, token, onChange, onStored }) {
    Object.assign(this, { url, who, token, onChange, onStored, state: "", words: "", busy: false, timer: 0 });
    addEventListener("online", () => this.go());
    addEventListener("offline", () => this.stop("no signal"));
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.go(); });
  }

  waiting() {
    return kept.all(this.who).filter((one) => !one.refused);
  }

  stop(state, words = "") {
    this.state = state;
    this.words = words;
    clearTimeout(this.timer);
    if (state === "no signal" || state === "busy") this.timer = setTimeout(() => this.go(), AGAIN_MS);
    this.onChange();
  }

  async go() {
    if (this.busy || !this.waiting().length) return;
    clearTimeout(this.timer);
    this.busy = true;
    try {
      let one;
      while ((one = this.waiting()[0])) {
        if (!(await this.send(one))) break;
      }
    } finally {
      this.busy = false;
    }
    this.onChange();
  }

  // Returns whether to go on with the next.
  async send(one) {
    let response;
    let answer;
    try {
      response = await fetch(this.url, {
        method: "POST",
        redirect: "manual",
        headers: { "Content-Type": "application/json", "X-CSRFToken": this.token },
        body: JSON.stringify({
          key: one.key, number: one.number, grams: toGrams(one.mg), at: new Date(one.at).toISOString(),
          condition: one.condition ?? "", sure: Boolean(one.sure),
        }),
        signal: AbortSignal.timeout(LONGEST_MS),
      });
      answer = (response.headers.get("Content-Type") ?? "").includes("json") ? await response.json() : null;
    } catch {
      this.stop("no signal");
      return false;
    }
    if (response.type === "opaqueredirect") this.stop("signed out");
    else if (response.ok && answer) return this.stored(one, answer);
    else if (response.status === 403) this.stop(answer ? "may not" : "stale", answer?.refused);
    else if (answer?.refused) return this.refuse(one, answer);
    else this.stop("busy");
    return false;
  }

  stored(one, answer) {
    kept.drop(one.name);
    this.state = "";
    this.onStored(one, answer);
    this.onChange();
    return true;
  }

  refuse(one, answer) {
    const { name, ...what } = one;
    kept.put(name, { ...what, refused: answer.refused, code: answer.code ?? "" });
    this.state = "";
    this.onChange();
    return true;
  }
}

// The weigh-in round: one workpiece after the other, without a page load, with or without a signal.
import * as kept from "./weigh-kept.js";
import { Sender } from "./weigh-send.js";
import { meant, odd, toGrams, toMg } from "./weigh-sums.js";

const MOST_FIGURES = 7;
const at = (id) => document.getElementById(id);
const page = at("weighing");
const data = JSON.parse(at("round-data").textContent);
const ahead = Date.parse(document.documentElement.dataset.now) - Date.now() || 0;
const token = JSON.parse(document.body.getAttribute("hx-headers"))["X-CSRFToken"];
const rows = data.rows;
const nbsp = "\u00a0";
let place = 0;
let typed = "";
let literal = false;
let sure = false;
let mending = null;

const sender = new Sender({ url: page.dataset.send, who: data.who, token, onChange: tell, onStored });
const written = (mg) => `${toGrams(mg).replace(".", data.decimal)}${nbsp}g`;
const here = () => rows[place];
const many = (n, one, more) => (n === 1 ? `One ${one}` : `${n} ${more}`);

function made(kind, words = "", more = {}) {
  const one = document.createElement(kind);
  one.textContent = words;
  for (const [name, value] of Object.entries(more)) {
    if (name === "press") one.addEventListener("click", value);
    else if (name in one) one[name] = value;
    else one.setAttribute(name, value);
  }
  return one;
}

// --- what is shown

function condition() {
  return mending?.condition || here().chosen || here().condition;
}

function now() {
  const [row, said] = [here(), meant(typed, here().last_mg)];
  return { row, mg: said.mg === null ? null : literal ? toMg(typed) : said.mg, completed: said.completed };
}

function show() {
  const done = place >= rows.length;
  at("one").hidden = done;
  at("end").hidden = !done;
  at("here").textContent = done || !rows.length ? "" : `${place + 1} of ${rows.length}`;
  if (done) return showEnd();
  const row = here();
  at("number").textContent = row.number;
  at("title").textContent = row.title;
  const last = at("last");
  last.replaceChildren();
  if (row.last_mg === null) last.append(row.words === "never weighed" ? "Never weighed before." : row.words);
  else last.append("Last ", made("b", written(row.last_mg)), `, ${row.last_words || "just now"}. ${sentence(row.words)}`);
  if (row.where) last.append(` In ${row.where}.`);
  at("how").textContent = `${sentence(data.conditions[condition()]).replace(".", "")}, now. Not so?`;
  for (const one of document.querySelectorAll("#conditions input")) one.checked = one.value === condition();
  at("its-page").href = row.pk ? page.dataset.page.replace("/0/", `/${row.pk}/`) : "#";
  at("its-page").hidden = !row.pk;
  at("skip").textContent = mending ? "Leave" : "Skip";
  at("next").textContent = mending ? "That is it" : "Next";
  at("back").disabled = place === 0 && !mending;
  showTyped();
}

function sentence(words) {
  return words ? `${words[0].toUpperCase()}${words.slice(1)}${/[.!]$/.test(words) ? "" : "."}` : "";
}

function showTyped() {
  at("shows").textContent = typed ? typed.replace(".", data.decimal) : "–";
  const target = at("shows").parentElement;
  target.classList.toggle("untyped", !typed);
  target.classList.toggle("long", typed.length > 5);
  const { row, mg, completed } = now();
  const makes = at("makes");
  makes.replaceChildren();
  asking(false);
  if (mg === null) return;
  if (completed && !literal) makes.append(made("b", `= ${written(mg)}`), row.last_mg === null ? "" : ", ");
  if (row.last_mg !== null) makes.append(difference(mg - row.last_mg));
  if (completed) {
    const other = literal ? meant(typed, row.last_mg).mg : toMg(typed);
    makes.append(made("button", `No, ${written(other)}`, { type: "button", press: () => { literal = !literal; showTyped(); } }));
  }
}

function difference(mg) {
  if (mg === 0) return "as last time";
  return mg < 0 ? `${written(-mg)} less` : `${written(mg)} more: gained!`;
}

function showEnd() {
  const skipped = rows.filter((row) => !row.taken && !row.fresh);
  const weighed = rows.length - skipped.length;
  at("walked").textContent = !rows.length
    ? "Nothing lies in an oven, and nothing that seasons is due."
    : skipped.length
      ? `${many(weighed, "is weighed", "are weighed")}. ${many(skipped.length, "was skipped", "were skipped")}:`
      : rows.length === 1 ? "It is weighed." : `All ${rows.length} are weighed.`;
  at("left").replaceChildren(...rows.map((row) => line(row)));
}

function line(row) {
  const one = made("li");
  const what = made("span", "", { className: "what" });
  what.append(made("span", row.number, { className: "tag" }), ` ${row.title}`);
  if (row.last_mg !== null) what.append(`, ${written(row.last_mg)}, ${row.words}`);
  const go = made("button", row.taken || row.fresh ? "Again" : "Weigh", {
    type: "button", className: row.taken || row.fresh ? "plain" : "do", press: () => turn(rows.indexOf(row)),
  });
  go.setAttribute("aria-label", `${go.textContent} ${row.number}`);
  one.append(what, go);
  return one;
}

function turn(to) {
  [place, typed, literal, sure, mending] = [Math.max(0, Math.min(to, rows.length)), "", false, false, null];
  show();
  scrollTo(0, 0);
  if (place >= rows.length) at("walked").focus();
}

// --- what is pressed

function press(figure) {
  if (place >= rows.length || !at("question").hidden) return;
  if (figure === "." && (typed.includes(".") || data.step_mg % 1000 === 0)) return;
  const next = figure === "." && !typed ? "0." : typed + figure;
  if (next.replace(".", "").length > MOST_FIGURES || toMg(next) === null) return;
  [typed, literal, sure] = [next, false, false];
  showTyped();
}

function wipe() {
  [typed, literal, sure] = [typed.slice(0, -1), false, false];
  showTyped();
}

function ask(words, mg) {
  at("asks").textContent = words;
  at("yes").textContent = `Yes, ${written(mg)} is right`;
  asking(true);
  at("yes").focus();
}

function asking(yes) {
  at("question").hidden = !yes;
  at("pad").hidden = at("turn").hidden = yes;
}

function next() {
  const { row, mg } = now();
  if (mg === null) {
    at("makes").textContent = "Type what the scale shows, or skip it.";
    return;
  }
  const why = sure ? "" : odd(mg, row.last_mg, data.heavier.includes(condition()));
  if (why === "far") ask(`It weighed ${written(row.last_mg)} last time. Is ${written(mg)} right?`, mg);
  else if (why) ask(`It gained since last time (${written(row.last_mg)}). Is ${written(mg)} right?`, mg);
  else take(row, mg);
}

function take(row, mg) {
  const when = mending?.at ?? Date.now() + ahead;
  const key = mending?.key ?? kept.newKey();
  const name = mending?.name ?? kept.name(data.who, when, key);
  const chosen = mending?.condition ?? row.chosen;
  const what = { key, number: row.number, mg, at: when, ...(sure && { sure }), ...(chosen && { condition: chosen }) };
  if (!kept.put(name, what)) sender.frail = true;
  Object.assign(row, { taken: true, was_mg: row.last_mg, last_mg: mg, last_words: "", words: fallen(row, mg) });
  turn(mending ? mending.from : after(place));
  tell();
  sender.go();
}

function fallen(row, mg) {
  if (row.last_mg === null) return "weighed once so far";
  return difference(mg - row.last_mg);
}

function after(from) {
  const ahead_ = rows.findIndex((row, n) => n > from && !row.taken && !row.fresh);
  return ahead_ < 0 ? rows.length : ahead_;
}

function onStored(one, answer) {
  const row = rows.find((other) => other.number === one.number);
  if (row && row.last_mg === answer.mass_mg) row.words = answer.words;
  if (place >= rows.length) showEnd();
}

// --- what waits, and what the studio would not take

function tell() {
  const [waits, line_] = [sender.waiting().length, at("waiting")];
  const others = kept.keys().length - kept.keys(data.who).length;
  const words = [];
  if (waits && sender.state === "no signal")
    words.push(`${many(waits, "waits", "wait")} for a signal. Go on weighing: nothing is lost.`);
  else if (waits && sender.state === "signed out")
    words.push(`You are signed out. ${many(waits, "weight is", "weights are")} kept here. `,
      made("a", "Sign in again", { href: page.dataset.signIn }));
  else if (waits && sender.state === "stale")
    words.push(`${many(waits, "weight is", "weights are")} kept here. This page is too old to send them. `,
      made("a", "Open it again", { href: page.dataset.send }));
  else if (waits && sender.state === "may not")
    words.push(`${sender.words} ${many(waits, "weight is", "weights are")} kept here.`);
  else if (waits && sender.state === "busy")
    words.push(`${many(waits, "waits", "wait")}: the studio is busy, and they go again in a moment.`);
  if (others > 0) words.push(` ${many(others, "weight", "weights")} of somebody else ${others === 1 ? "waits" : "wait"} here until they sign in.`);
  if (sender.frail) words.push(" This device keeps nothing: stay on this page until there is a signal.");
  if (line_.dataset.said !== words.map((one) => one.textContent ?? one).join("")) {
    line_.dataset.said = words.map((one) => one.textContent ?? one).join("");
    line_.replaceChildren(...words);
  }
  line_.hidden = !words.length;
  tellRefused();
}

function tellRefused() {
  const found = kept.all(data.who).filter((one) => one.refused);
  const shown = found.map((one) => one.name).join(" ");
  if (at("refused").dataset.shown === shown) return;
  at("refused").dataset.shown = shown;
  at("refused").replaceChildren(...found.map(refusal));
}

function refusal(one) {
  const box = made("div", "", { className: "refused-one" });
  const head = made("p");
  const clock = new Date(one.at - ahead).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  head.append(made("span", one.number, { className: "tag" }), ` You typed ${written(one.mg)} at ${clock}.`);
  const answers = made("div", "", { className: "answers" });
  const again = { type: "button", className: "plain" };
  if (one.code === "sure")
    answers.append(made("button", `Yes, ${written(one.mg)} is right`, { ...again, className: "do", press: () => mend(one, { sure: true }) }));
  if (one.code === "number") answers.append(...number(one));
  else if (one.code !== "other") answers.append(made("button", "Type it again", { ...again, press: () => retype(one) }));
  answers.append(made("button", "Leave it out", { ...again, press: () => { kept.drop(one.name); tell(); } }));
  box.append(head, made("p", one.refused), answers);
  return box;
}

function number(one) {
  const box = made("input", "", { value: one.number, maxLength: 40, className: "typed", autocomplete: "off" });
  box.setAttribute("aria-label", "Its number");
  const go = () => { if (box.value.trim()) mend(one, { number: box.value.trim() }); };
  return [box, made("button", "That is its number", { type: "button", className: "do", press: go })];
}

function mend(one, change) {
  const { name, refused, code, ...what } = one;
  kept.put(name, { ...what, ...change });
  tell();
  sender.go();
}

function retype(one) {
  const from = place;
  let row = rows.find((other) => other.number === one.number);
  if (!row) rows.push((row = stub(one.number)));
  if (row.taken && row.last_mg === one.mg && row.was_mg !== undefined) row.last_mg = row.was_mg;
  turn(rows.indexOf(row));
  mending = { ...one, from };
  show();
}

// --- one more, by its number

function stub(wanted) {
  return {
    pk: 0, number: wanted, title: "", where: "", condition: "wet", last_mg: null, last_words: "", fresh: false,
    words: "No signal: its last weight isn't known here.",
  };
}

async function another(event) {
  event.preventDefault();
  const [box, wrong] = [at("its-number"), at("not-found")];
  const wanted = box.value.trim().replace(/\s+/g, " ");
  wrong.hidden = true;
  if (!wanted) return box.focus();
  let row = rows.find((one) => one.number === wanted);
  if (!row) {
    row = await found(wanted);
    if (row.refused) {
      wrong.textContent = row.refused;
      wrong.hidden = false;
      return box.focus();
    }
    rows.push(row);
  }
  box.value = "";
  turn(rows.indexOf(row));
}

async function found(wanted) {
  try {
    const response = await fetch(`${page.dataset.send}?find=${encodeURIComponent(wanted)}`, { redirect: "manual" });
    if (response.ok || response.status === 404) return await response.json();
  } catch { /* no signal: it is weighed all the same */ }
  return stub(wanted);
}

// --- begin

function begin() {
  for (const one of kept.all(data.who)) {
    const row = rows.find((other) => other.number === one.number);
    if (row && !one.refused) Object.assign(row, { taken: true, last_mg: one.mg, last_words: "", words: "not sent yet" });
  }
  at("mark").hidden = data.step_mg % 1000 === 0;
  at("pad").classList.toggle("whole", data.step_mg % 1000 === 0);
  at("plain").hidden = true;
  page.hidden = false;
  turn(after(-1));
  tell();
  sender.go();
}

at("pad").addEventListener("click", (event) => {
  const figure = event.target.closest("button")?.dataset.figure;
  if (figure) press(figure);
});
at("wipe").addEventListener("click", wipe);
at("next").addEventListener("click", next);
at("skip").addEventListener("click", () => turn(mending ? mending.from : place + 1));
at("back").addEventListener("click", () => turn(mending ? mending.from : place - 1));
at("yes").addEventListener("click", () => { sure = true; next(); });
at("no").addEventListener("click", () => { typed = ""; showTyped(); });
at("another").addEventListener("submit", another);
at("conditions").addEventListener("change", (event) => {
  if (mending) mending.condition = event.target.value;
  else here().chosen = event.target.value;
  show();
});
document.addEventListener("keydown", (event) => {
  if (event.target.closest("input, summary, a") || event.ctrlKey || event.metaKey || event.altKey) return;
  if (/^\d$/.test(event.key)) press(event.key);
  else if (event.key === "." || event.key === ",") press(".");
  else if (event.key === "Backspace") wipe();
  else if (event.key === "Enter" && !event.target.closest("button")) next();
  else return;
  event.preventDefault();
});
begin();

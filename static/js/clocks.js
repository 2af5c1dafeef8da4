// Clocks that run on the page. The server's time leads: a phone whose own clock is wrong still shows the right span.
const root = document.documentElement;
const ahead = root.dataset.now ? Date.parse(root.dataset.now) - Date.now() : 0;
const two = (n) => String(n).padStart(2, "0");

function words(seconds, form) {
  const sign = seconds < 0 ? "−" : "";
  const far = Math.abs(seconds);
  if (form === "seconds") return `${sign}${Math.floor(far / 60)}:${two(far % 60)}`;
  if (far < 60) return `${sign}${far}\u00a0s`;
  const minutes = Math.floor(far / 60);
  const hours = Math.floor(minutes / 60);
  if (!hours) return `${sign}${minutes}\u00a0min`;
  if (hours >= 96) return `${sign}${Math.floor(hours / 24)}\u00a0days ${hours % 24}\u00a0h`;
  return `${sign}${hours}\u00a0h\u00a0${two(minutes % 60)}`;
}

function tick() {
  const now = Date.now() + ahead;
  for (const clock of document.querySelectorAll("time[data-clock]")) {
    const at = Date.parse(clock.dateTime);
    if (Number.isNaN(at)) continue;
    const down = clock.dataset.clock === "down";
    const seconds = Math.floor((down ? at - now : now - at) / 1000);
    const text = words(seconds, clock.dataset.form);
    if (clock.textContent !== text) clock.textContent = text;
    if (down) clock.closest(".clock:not(.pour-clock)")?.classList.toggle("over", seconds < 0);
  }
}

// The clock of a mix: half gone, lid shut by, over. Each is said, seen and heard once; what is past when the page opens
// is only seen.
const pour = document.querySelector(".pour-clock");
const quiet = "pour-sound-off";
const STAGES = ["half", "lid", "over"];
const TONES = { half: 1, lid: 2, over: 4 };
let audio = null;

function muted() {
  try { return localStorage.getItem(quiet) === "1"; } catch { return false; }
}

function turn() {
  const now = Date.now() + ahead;
  let stage = "early";
  for (const one of STAGES) if (pour.dataset[one] && Date.parse(pour.dataset[one]) <= now) stage = one;
  if (stage === pour.dataset.stage) return;
  pour.dataset.stage = stage;
  for (const part of pour.querySelectorAll("[data-at]")) part.hidden = !part.dataset.at.split(" ").includes(stage);
  pour.querySelector("[data-tell]").textContent = [...pour.querySelectorAll(".said > [data-at]:not([hidden])")]
    .map((part) => part.textContent).join(" ");
  if (stage !== "early") sound(TONES[stage]);
}

function sound(times) {
  if (muted()) return;
  navigator.vibrate?.(Array(times).fill([300, 150]).flat());
  if (audio?.state !== "running") return;
  for (let n = 0; n < times; n += 1) {
    const at = audio.currentTime + n * 0.45;
    const tone = audio.createOscillator();
    const loud = audio.createGain();
    tone.frequency.value = 880;
    loud.gain.setValueAtTime(0.0001, at);
    loud.gain.exponentialRampToValueAtTime(0.5, at + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.0001, at + 0.3);
    tone.connect(loud).connect(audio.destination);
    tone.start(at);
    tone.stop(at + 0.32);
  }
}

// A browser gives no sound before the page was touched once.
async function listen() {
  const Sound = window.AudioContext ?? window.webkitAudioContext;
  if (!Sound) return;
  audio ??= new Sound();
  try { await audio.resume(); } catch { /* it is asked again at the next touch */ }
  tell();
}

function tell() {
  const button = document.querySelector("[data-sound]");
  if (!button) return;
  const on = !muted();
  button.setAttribute("aria-pressed", String(on));
  button.textContent = !on ? "Sound is off" : audio?.state === "running" ? "Sound is on" : "Tap once for sound";
}

function mute() {
  const off = !muted() && audio?.state === "running";
  try { localStorage.setItem(quiet, off ? "1" : "0"); } catch { /* not remembered, then */ }
  if (!off) listen().then(() => sound(1));
  tell();
}

// The screen stays on for as long as this page is looked at; leaving it, as the booking does, lets it go.
async function stayAwake() {
  if (document.hidden || !navigator.wakeLock) return;
  const awake = document.querySelector("[data-awake]");
  try {
    const held = await navigator.wakeLock.request("screen");
    if (awake) awake.hidden = false;
    held.addEventListener("release", () => { if (awake) awake.hidden = true; });
  } catch { /* the browser won't: nothing is promised */ }
}

if (pour) {
  const button = document.querySelector("[data-sound]");
  button.closest("[hidden]")?.removeAttribute("hidden");
  button.addEventListener("click", (event) => { event.stopPropagation(); mute(); });
  document.addEventListener("pointerdown", (event) => { if (!muted() && event.target !== button) listen(); });
  document.addEventListener("visibilitychange", () => { turn(); stayAwake(); });
  setInterval(turn, 1000);
  turn();
  tell();
  stayAwake();
}

tick();
setInterval(() => { if (!document.hidden) tick(); }, 1000);
document.addEventListener("visibilitychange", tick);
document.addEventListener("htmx:afterSwap", tick);

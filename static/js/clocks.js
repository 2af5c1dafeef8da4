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
    if (down) clock.closest(".clock")?.classList.toggle("over", seconds < 0);
  }
}

tick();
setInterval(() => { if (!document.hidden) tick(); }, 1000);
document.addEventListener("visibilitychange", tick);
document.addEventListener("htmx:afterSwap", tick);

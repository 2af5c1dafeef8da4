// Signing out clears what this device keeps. Where weights still wait to be sent, that is said first.
import { keys } from "./weigh-kept.js";

document.addEventListener("submit", (event) => {
  const form = event.target;
  const waits = keys().length;
  if (!waits || !form.action.endsWith("/sign-out/") || form.dataset.warned) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  form.dataset.warned = "yes";
  const trouble = document.getElementById("trouble");
  const round = document.createElement("a");
  round.href = form.dataset.weigh;
  round.textContent = "send them from the weigh-in round";
  trouble.replaceChildren(
    `${waits === 1 ? "One weight waits" : `${waits} weights wait`} on this device and would be lost: `,
    round, " first. Or sign out once more, and they are gone.",
  );
  trouble.hidden = false;
  document.getElementById("words")?.hidePopover?.();
  trouble.scrollIntoView({ block: "nearest" });
}, true);

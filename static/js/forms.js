// What a form needs beside the server: the eye led to what is wrong, and a sentence when the studio can't be reached.
const trouble = document.getElementById("trouble");

function say(sentence) {
  if (!trouble) return;
  trouble.textContent = sentence;
  trouble.hidden = false;
  trouble.scrollIntoView({ block: "nearest" });
}

document.querySelector(".refused[tabindex]")?.focus();

document.addEventListener("htmx:sendError", () =>
  say("The studio can't be reached just now. What you typed is still here; press again in a moment."));
document.addEventListener("htmx:timeout", () =>
  say("That took too long. What you typed is still here; press again in a moment."));
document.addEventListener("htmx:responseError", (event) => {
  const status = event.detail.xhr.status;
  if (status === 503) say("Somebody else was writing at that moment. Nothing was stored; press again.");
  else if (status === 401 || status === 403) say("You are not signed in any more, or may not do this. Open the page again.");
  else if (status === 404) say("That is no longer there. Open the page again to see what there is now.");
  else say("Something broke here, not with you. Nothing half-done was kept; try once more.");
});
document.addEventListener("htmx:afterSwap", (event) => {
  if (trouble) trouble.hidden = true;
  event.detail.target.querySelector?.(".refused[tabindex]")?.focus();
});

// A photograph is large and the shop's network slow: say its size before it is sent.
document.addEventListener("change", (event) => {
  const input = event.target;
  if (input.type !== "file" || !input.files.length) return;
  const most = Number(input.dataset.most || 0);
  const large = [...input.files].find((file) => most && file.size > most);
  input.setCustomValidity(large ? `${large.name} is larger than ${Math.round(most / 1e6)} MB. Choose a smaller picture.` : "");
  if (large) input.reportValidity();
});

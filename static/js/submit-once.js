// A second press while a form is on its way does nothing. The server counts a form once by its key in any case;
// this only spares the person a second page load.
const AGAIN_AFTER_MS = 15000;

function rest(form) {
  delete form.dataset.sent;
  for (const button of form.querySelectorAll("button[data-said]")) {
    button.textContent = button.dataset.said;
    button.removeAttribute("aria-disabled");
    delete button.dataset.said;
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  const button = event.submitter;
  if (button && button.tagName === "BUTTON" && !button.childElementCount) {
    button.dataset.said = button.textContent;
    button.setAttribute("aria-disabled", "true");
    if (button.dataset.working) button.textContent = button.dataset.working;
  }
  setTimeout(() => rest(form), AGAIN_AFTER_MS);
});

// Back in the browser brings the page as it was left: let the form be sent again.
addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach(rest));
document.addEventListener("htmx:afterRequest", (event) => {
  const form = event.target.closest?.("form");
  if (form) rest(form);
});

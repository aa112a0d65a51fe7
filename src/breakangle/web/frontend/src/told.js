// A refusal that comes without a new page: it stays in sight, and nothing older stands there as its answer.
const message = () => document.querySelector("#message");

function refused(event) {
  const asked = event.detail.elt;
  message().dataset.told = "yes";
  const answer = asked.matches("form[hx-target]") ? document.querySelector(asked.getAttribute("hx-target")) : null;
  if (answer && !answer.contains(asked)) answer.replaceChildren();
}

function askedAgain() {
  if (message()?.dataset.told !== "yes") return;
  delete message().dataset.told;
  message().replaceChildren();
}

export function startTold() {
  document.addEventListener("htmx:responseError", refused);
  document.addEventListener("htmx:beforeRequest", askedAgain);
}

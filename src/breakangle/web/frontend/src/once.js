// What is sent is sent once: a second press while the first is on its way goes nowhere.
const AGAIN_MS = 10_000;

function sent(event) {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post" || form.id === "readings") return;
  if (form.dataset.sent) event.preventDefault();
  else {
    form.dataset.sent = "yes";
    setTimeout(() => delete form.dataset.sent, AGAIN_MS); // an answer that is a file leaves the page here
  }
}

function here(event) {
  if (event.persisted) for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
}

export function startOnce() {
  document.addEventListener("submit", sent);
  addEventListener("pageshow", here);
}

// Set once for every page. htmx swaps the answers that carry a form or a refusal (422, 409) too.
document.addEventListener("htmx:configRequest", (event) => {
  const token = document.querySelector('meta[name="csrf-token"]');
  if (token && event.detail.verb !== "get") {
    event.detail.headers["X-CSRFToken"] = token.content;
  }
});

document.addEventListener("htmx:beforeSwap", (event) => {
  if ([403, 409, 422].includes(event.detail.xhr.status)) {
    event.detail.shouldSwap = true;
    event.detail.isError = false;
  }
});

// A run that has ended shows its answer: the fragment says so by this event.
document.addEventListener("run-ended", () => window.location.reload());

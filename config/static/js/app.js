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

// An expired session answers with the log-in page: go there, and come back to where we are.
document.addEventListener("htmx:beforeOnLoad", (event) => {
  const answer = event.detail.xhr.responseURL;
  if (answer && new URL(answer).pathname === "/login/" && window.location.pathname !== "/login/") {
    event.preventDefault();
    const back = window.location.pathname + window.location.search;
    window.location.assign(`/login/?next=${encodeURIComponent(back)}`);
  }
});

// A form that opens in place takes the focus; “Cancel” closes it.
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.closest?.("dialog")) return;
  const head = event.detail.target.querySelector?.("[data-focus]") ?? document.querySelector(".move [data-focus]");
  if (head) {
    head.focus({ preventScroll: true });
    head.closest(".move").scrollIntoView({ block: "nearest" });
  }
});

document.addEventListener("click", (event) => {
  const close = event.target.closest?.("[data-move-close]");
  if (close) {
    event.preventDefault();
    close.closest(".move").remove();
  }
});

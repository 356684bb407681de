// Names the boxes of parameters, which the package that draws the page leaves without a label.
const shown = document.getElementById("swagger-ui");

function nameBoxes() {
  for (const box of shown.querySelectorAll("[data-param-name] :is(select, input, textarea):not([aria-label])")) {
    box.setAttribute("aria-label", box.closest("[data-param-name]").dataset.paramName);
  }
}

new MutationObserver(nameBoxes).observe(shown, { childList: true, subtree: true });

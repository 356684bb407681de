// Shows the fields of the chosen way to say a value; without this, all are shown and the chosen one counts.
for (const form of document.querySelectorAll("[data-ways]")) {
  const select = form.querySelector("[data-way-select]");
  const show = () => {
    for (const part of form.querySelectorAll("[data-way]")) part.hidden = part.dataset.way !== select.value;
  };
  select.addEventListener("change", show);
  show();
}

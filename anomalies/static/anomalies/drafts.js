// Keeps what is typed into a form with data-draft in this browser, until the form was taken: a lost connection or an
// expired session costs nothing. Passwords, files and hidden fields aren't kept.
const PREFIX = "draft:";
const KEPT_FOR = 30 * 24 * 3600 * 1000;

function* fields(form) {
  for (const field of form.elements) {
    if (field.name && !["hidden", "password", "file", "submit", "button"].includes(field.type)) yield field;
  }
}

function read(form) {
  const values = {};
  for (const field of fields(form)) {
    values[field.name] ??= [];
    if (field.type === "checkbox" || field.type === "radio") {
      if (field.checked) values[field.name].push(field.value);
    } else if (field.multiple) {
      values[field.name].push(...[...field.selectedOptions].map((option) => option.value));
    } else values[field.name].push(field.value);
  }
  return values;
}

function write(form, values) {
  const taken = {};
  for (const field of fields(form)) {
    const kept = values[field.name];
    if (!kept) continue;
    if (field.type === "checkbox" || field.type === "radio") field.checked = kept.includes(field.value);
    else if (field.multiple) for (const option of field.options) option.selected = kept.includes(option.value);
    else {
      taken[field.name] = (taken[field.name] ?? -1) + 1;
      field.value = kept[taken[field.name]] ?? field.value;
    }
  }
}

function offer(form, key, kept, before) {
  const notice = document.createElement("div");
  notice.className = "notice notice--warn row row--spread";
  notice.setAttribute("role", "status");
  const text = document.createElement("p");
  text.textContent = `What you typed here on ${new Date(kept.at).toISOString().slice(0, 16).replace("T", " ")} UTC was not saved; it is back in the form.`;
  const discard = document.createElement("button");
  discard.type = "button";
  discard.className = "button button--small";
  discard.textContent = "Discard it";
  discard.addEventListener("click", () => {
    write(form, before);
    localStorage.removeItem(key);
    notice.remove();
  });
  notice.append(text, discard);
  form.before(notice);
}

function keep(form) {
  const key = `${PREFIX}${form.dataset.draft}`;
  const before = read(form);
  let kept = null;
  try {
    kept = JSON.parse(localStorage.getItem(key));
  } catch {
    localStorage.removeItem(key);
  }
  const refused = form.querySelector(".field__errors, .clash, .notice--alert") !== null;
  if (kept && !refused && JSON.stringify(kept.values) !== JSON.stringify(before)) {
    write(form, kept.values);
    offer(form, key, kept, before);
  }
  form.addEventListener("input", () => {
    localStorage.setItem(key, JSON.stringify({ at: Date.now(), values: read(form) }));
  });
  form.addEventListener("submit", () => sessionStorage.setItem("draft-sent", key));
}

// A form that was sent and isn't on the page any more was taken; a log-in page means that it wasn't.
function settle() {
  const sent = sessionStorage.getItem("draft-sent");
  if (!sent || document.querySelector("[name=password][autocomplete=current-password]:not([data-draft] *)")) return;
  const still = [...document.querySelectorAll("form[data-draft]")].some((form) => `${PREFIX}${form.dataset.draft}` === sent);
  const failed = document.querySelector("[data-code]") !== null;
  if (!still && !failed) localStorage.removeItem(sent);
  sessionStorage.removeItem("draft-sent");
}

for (const key of Object.keys(localStorage)) {
  if (!key.startsWith(PREFIX)) continue;
  try {
    if (Date.now() - JSON.parse(localStorage.getItem(key)).at > KEPT_FOR) localStorage.removeItem(key);
  } catch {
    localStorage.removeItem(key);
  }
}
settle();
document.querySelectorAll("form[data-draft]").forEach(keep);

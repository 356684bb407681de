// What is typed into <form data-draft="key"> stays on this device until it was saved: it outlives a lost connection,
// a closed page and an expired session. Passwords and files are never kept.
(() => {
  const PREFIX = "draft:";
  const KEPT_FOR = 14 * 24 * 3600 * 1000;

  // What says which list a signature is for is always the page's own (data-fresh).
  const isKept = (input) =>
    input.name && input.name !== "csrfmiddlewaretoken" && !("fresh" in input.dataset) && !["password", "file", "submit", "button"].includes(input.type);

  function read(form) {
    const values = {};
    for (const input of form.elements) {
      if (!isKept(input)) continue;
      const held = (values[input.name] ??= []);
      if (!["checkbox", "radio"].includes(input.type) || input.checked) held.push(input.value);
    }
    return values;
  }

  function write(form, values) {
    for (const [name, held] of Object.entries(values)) {
      const left = [...held];
      for (const input of form.elements) {
        if (input.name !== name || !isKept(input)) continue;
        if (["checkbox", "radio"].includes(input.type)) input.checked = held.includes(input.value);
        else if (left.length) input.value = left.shift();
      }
    }
    for (const options of form.querySelectorAll("[data-options]")) {
      const held = values[options.dataset.options] ?? [];
      if (held.length) askFor(options, held);
    }
  }

  // Boxes that aren't on the page are asked for, with those that were ticked.
  function askFor(options, held) {
    const asked = new URLSearchParams(held.map((key) => [options.dataset.options, key]));
    window.htmx?.ajax("GET", `${options.dataset.optionsUrl}?${asked}`, { target: options, swap: "innerHTML" });
  }

  function load(key) {
    try {
      const draft = JSON.parse(localStorage.getItem(PREFIX + key));
      return draft && Date.now() - draft.at < KEPT_FOR ? draft : null;
    } catch {
      return null;
    }
  }

  function keep(key, values) {
    try {
      localStorage.setItem(PREFIX + key, JSON.stringify({ at: Date.now(), values }));
    } catch { /* storage is full or barred: the form still works */ }
  }

  function notice(form, text, label, act) {
    const box = document.createElement("p");
    box.className = "notice notice--warn row row--spread";
    box.setAttribute("role", "status");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button button--small";
    button.textContent = label;
    button.addEventListener("click", () => { act(); box.remove(); });
    box.append(Object.assign(document.createElement("span"), { textContent: text }), button);
    form.prepend(box);
  }

  function tend(form) {
    if (form.dataset.draftTended) return;
    form.dataset.draftTended = "yes";
    const key = form.dataset.draft;
    const served = read(form);
    const draft = load(key);
    // A form that came back from the service holds what was typed already.
    const cameBack = form.querySelector("[role=alert]") !== null;
    if (draft && !cameBack && JSON.stringify(draft.values) !== JSON.stringify(served)) {
      write(form, draft.values);
      const when = new Date(draft.at).toISOString().slice(0, 16).replace("T", " ");
      notice(form, `What you typed on ${when} UTC and hadn't saved is back.`, "Discard it", () => {
        localStorage.removeItem(PREFIX + key);
        write(form, served);
      });
    }
    let timer = 0;
    const now = () => { clearTimeout(timer); timer = 0; keep(key, read(form)); };
    const later = () => { clearTimeout(timer); timer = setTimeout(now, 250); };
    form.addEventListener("input", later);
    window.addEventListener("pagehide", () => { if (timer) now(); });  // the last words count too
    form.addEventListener("submit", now);
    form.addEventListener("htmx:sendError", () =>
      notice(form, "No connection. What you typed is kept on this device: send it again when there is one.", "Good", () => {}));
  }

  function start(root) {
    for (const done of document.querySelectorAll("[data-draft-done]")) {
      localStorage.removeItem(PREFIX + done.dataset.draftDone);
    }
    if (root.matches?.("form[data-draft]")) tend(root);
    root.querySelectorAll?.("form[data-draft]").forEach(tend);
  }

  document.addEventListener("htmx:load", (event) => start(event.detail.elt));
  start(document);
})();

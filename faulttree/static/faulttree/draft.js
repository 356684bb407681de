// The bench: choose, edit, undo. Every step goes to the server, which answers with the pieces of the page anew.
(() => {
  const place = document.querySelector("[data-workplace]");
  if (!place) return;
  const base = `/bench/${place.dataset.draft}/`;
  const state = {
    step: Number(place.dataset.step),
    chosen: place.dataset.chosen,
    under: place.dataset.under,
    folded: new Set(),
    touched: new WeakSet(),
  };
  let line = Promise.resolve();  // steps go one after the other, however fast they are made
  let panel = Promise.resolve();

  const find = (selector, within = place) => within.querySelector(selector);
  const all = (selector, within = place) => [...within.querySelectorAll(selector)];
  const tree = () => find("[data-tree]");
  const itemsOf = (name, under) => all("[data-tree] [role=treeitem]")
    .filter((item) => item.dataset.name === name && (item.dataset.under ?? "") === (under ?? ""));

  function say(words, isAlert = false) {
    const line = find("[data-say]");
    line.textContent = words;
    line.classList.toggle("is-alert", isAlert);
  }

  // --- Talking to the server ---------------------------------------------------------------------------------------

  async function send(what, body) {
    const answer = await fetch(base + what, {
      method: "POST",
      headers: {
        "Accept": "application/json",
        "Content-Type": "application/json",
        "X-CSRFToken": document.querySelector('meta[name="csrf-token"]').content,
      },
      body: JSON.stringify({
        seen: state.step, view: window.location.search, chosen: state.chosen, under: state.under, ...body,
      }),
    });
    const type = answer.headers.get("Content-Type") ?? "";
    if (!type.includes("application/json")) {
      return { ok: false, data: { code: "", message: "The server gave no answer that can be used. Load the page again.", fields: {} } };
    }
    return { ok: answer.ok, data: await answer.json() };
  }

  function step(what, body, form = null) {
    const doing = line.then(async () => {
      const focus = focusNow(form);
      place.classList.add("is-busy");
      let answer;
      try {
        answer = await send(what, body);
      } catch {
        answer = { ok: false, data: { code: "", message: "The server can't be reached. Nothing is lost: try again.", fields: {} } };
      }
      place.classList.remove("is-busy");
      if (!answer.ok) return refuse(answer.data, form);
      state.step = answer.data.step;
      state.chosen = answer.data.chosen;
      state.under = answer.data.under;
      show(answer.data.pieces);
      document.dispatchEvent(new CustomEvent("diagram-bring", { detail: state.chosen }));
      say(answer.data.words);
      putFocus(focus);
      return true;
    });
    line = doing.catch(() => false);
    return doing;
  }

  async function refuse(data, form) {
    say(data.message, true);
    if (data.code === "stale_draft") {
      const answer = await fetch(`${base}pieces/${window.location.search || "?"}&all=1`);
      const fresh = await answer.json();
      state.step = fresh.step;
      show(fresh.pieces);
    } else if (form) {
      showErrors(form, data.fields, true);
    }
    return false;
  }

  // --- Showing pieces ----------------------------------------------------------------------------------------------

  function show(pieces) {
    const scroll = tree()?.scrollTop ?? 0;
    for (const [name, markup] of Object.entries(pieces)) {
      const root = document.getElementById(name);
      const piece = new DOMParser().parseFromString(markup, "text/html").getElementById(name);
      if (!root || !piece) continue;
      const open = all("details[open]", root).map((item) => item.querySelector("summary").textContent);
      root.replaceWith(piece);
      for (const item of all("details", piece)) {
        if (open.includes(item.querySelector("summary").textContent)) item.open = true;
      }
      if (name === "diagram") document.dispatchEvent(new CustomEvent("diagram-replaced"));
    }
    dress();
    if (tree()) tree().scrollTop = scroll;
  }

  // What the script adds to fresh markup: folds, the chosen element, fields that depend on a choice.
  function dress() {
    for (const item of all("[data-tree] [role=treeitem][aria-expanded]")) {
      if (state.folded.has(item.dataset.name)) item.setAttribute("aria-expanded", "false");
    }
    for (const select of all("[data-model], [data-kind-select]")) depend(select);
    for (const form of all("[data-group]")) askFactors(form);
    mark();
  }

  function mark() {
    const here = itemsOf(state.chosen, state.under)[0] ?? all("[data-tree] [role=treeitem]").find((item) => item.dataset.name === state.chosen);
    for (const item of all("[data-tree] [role=treeitem]")) {
      item.setAttribute("aria-selected", String(item === here));
      item.tabIndex = item === here ? 0 : -1;
    }
    if (!here && tree()?.firstElementChild) tree().firstElementChild.tabIndex = 0;
    for (const item of all("#diagram [data-name]")) item.classList.toggle("is-chosen", item.dataset.name === state.chosen);
    return here;
  }

  function depend(select) {
    if (select.matches("[data-model]")) {
      for (const fields of all("[data-for]", select.closest(".typed"))) fields.hidden = fields.dataset.for !== select.value;
    } else {
      for (const field of all("[data-for-kind]", select.form)) field.hidden = !field.dataset.forKind.split(" ").includes(select.value);
    }
  }

  // --- Choosing ----------------------------------------------------------------------------------------------------

  function choose(name, under = "", { focus = false } = {}) {
    state.chosen = name;
    state.under = under;
    const here = mark();
    if (here) {
      for (let item = here.parentElement.closest("[role=treeitem]"); item; item = item.parentElement.closest("[role=treeitem]")) {
        fold(item, false);
      }
      if (focus) here.focus();
      here.querySelector(".outline__row").scrollIntoView({ block: "nearest" });
    }
    document.dispatchEvent(new CustomEvent("diagram-bring", { detail: name }));
    const query = new URLSearchParams(window.location.search);
    query.set("chosen", name);
    query.set("under", under);
    panel = fetch(`${base}pieces/?${query}`).then(async (answer) => {
      const data = await answer.json();
      if (state.chosen === name) show(data.pieces);
    });
    return panel;
  }

  function fold(item, wanted) {
    if (!item.hasAttribute("aria-expanded")) return;
    item.setAttribute("aria-expanded", String(!wanted));
    if (wanted) state.folded.add(item.dataset.name);
    else state.folded.delete(item.dataset.name);
  }

  const visible = () => all("[data-tree] [role=treeitem]").filter((item) => !item.parentElement.closest("[aria-expanded=false]"));

  // --- Focus, across pieces that are replaced ----------------------------------------------------------------------

  function focusNow(form) {
    const here = document.activeElement;
    if (here?.closest("[data-view]")) return { kind: "diagram" };
    if (form?.closest("#extras")) return { kind: "extras" };
    if (here?.closest("[data-tree]") || form?.matches(".chosen__form")) return { kind: "tree" };
    if (here?.id) return { kind: "id", id: here.id };
    if (here?.dataset?.step || here?.dataset?.travel) return { kind: "tree" };
    return { kind: "none" };
  }

  function putFocus(focus) {
    if (focus.kind === "tree") mark()?.focus();
    else if (focus.kind === "diagram") find("[data-view]")?.focus({ preventScroll: true });
    else if (focus.kind === "id") document.getElementById(focus.id)?.focus({ preventScroll: true });
  }

  // --- Forms -------------------------------------------------------------------------------------------------------

  function compose(form) {
    const edit = { do: form.dataset.edit };
    const typed = {};
    for (const field of form.elements) {
      if (field.closest("[hidden]") && field.type !== "hidden") continue;
      if (field.dataset.argument !== undefined || field.matches("[data-model]") || !field.name) continue;
      const text = field.value.trim();
      if (field.matches("[data-flag]")) edit[field.name] = field.checked;
      else if (!field.matches("[data-whole]")) edit[field.name] = text;
      else if (text !== "") edit[field.name] = /^-?\d+$/.test(text) ? Number(text) : text;
    }
    const value = find("[data-typed=expression]", form);
    if (value) {
      const model = find("[data-model]", value).value;
      typed.expression = { model, arguments: all(`[data-for=${model}] [data-argument]`, value).map((field) => field.value) };
    }
    for (const field of all("[data-typed-number]", form)) {
      if (field.value.trim()) typed[field.dataset.typedNumber] = { model: "number", arguments: [field.value] };
    }
    for (const field of all("[data-typed-plain]", form)) typed[field.dataset.typedPlain] = field.value;
    if (form.matches("[data-group]")) {
      edit.members = all("[data-member]:checked", form).map((box) => box.value);
      typed.factors = Object.fromEntries(all("[data-level]", form).map((field) => [field.dataset.level, field.value]));
    }
    if (Object.keys(typed).length) edit.typed = typed;
    return edit;
  }

  function fieldOf(form, name) {
    const place = name.match(/^(expression)-(\d+)$/);
    if (place) return find(`[data-for]:not([hidden]) [data-argument="${place[2]}"]`, form) ?? find("[data-typed-number]", form);
    const level = name.match(/^factors-(\d+)$/);
    if (level) return find(`[data-level="${level[1]}"]`, form);
    return find(`[name="${name}"]:not([type=hidden])`, form) ?? find(`[data-typed-plain="${name}"]`, form) ?? find(`[data-typed-number="${name}"]`, form);
  }

  function showErrors(form, fields, isFinal) {
    for (const old of all(".field__errors", form)) old.remove();
    for (const field of all("[aria-invalid]", form)) {
      field.removeAttribute("aria-invalid");
      field.removeAttribute("aria-describedby");
    }
    let first = null;
    for (const [name, messages] of Object.entries(fields)) {
      const field = fieldOf(form, name);
      if (field && !isFinal && !state.touched.has(field)) continue;
      const error = document.createElement("p");
      error.className = "field__errors";
      error.id = `${field?.id || form.dataset.edit}-error`;
      error.textContent = messages.join(" ");
      if (!field) {
        if (isFinal || name === "") form.append(error);
        continue;
      }
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-describedby", error.id);
      (field.closest(".field") ?? form).append(error);
      first ??= field;
    }
    if (isFinal) first?.focus();
  }

  let waiting = 0;
  function checkSoon(form) {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(async () => {
      const answer = await send("check/", { edit: compose(form) }).catch(() => null);
      if (answer?.ok && form.isConnected) showErrors(form, answer.data.fields, false);
    }, 300);
  }

  function askFactors(form) {
    const model = find("[data-group-model]", form).value;
    const count = all("[data-member]:checked", form).length;
    const from = { "beta-factor": count, "MGL": 2 }[model] ?? 1;
    const holder = find("[data-factors]", form);
    const before = Object.fromEntries(all("[data-level]", holder).map((field) => [field.dataset.level, field.value]));
    holder.replaceChildren();
    for (let level = from; level <= count && count >= 2; level += 1) {
      const field = document.createElement("div");
      field.className = "field";
      const label = document.createElement("label");
      label.className = "field__label";
      label.textContent = model === "beta-factor" ? "Beta factor" : `Factor of level ${level}`;
      const input = document.createElement("input");
      input.id = `ng-factor-${level}`;
      input.dataset.level = level;
      input.value = before[level] ?? "";
      input.autocomplete = "off";
      label.htmlFor = input.id;
      field.append(label, input);
      holder.append(field);
    }
  }

  function open(name) {
    const form = find(`#chosen [data-form="${name}"]`);
    if (!form) return;
    for (const other of all("#chosen .chosen__form")) other.hidden = other !== form;
    form.hidden = false;
    const field = [...form.elements].find((item) => item.matches("input:not([type=hidden]), select"));
    field?.focus();
    field?.select?.();
  }

  place.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.matches("[data-time]")) {
      event.preventDefault();
      step("time/", { hours: form.elements.hours.value }, form);
    } else if (form.matches("[data-edit=split]")) {
      event.preventDefault();
      step("split/", { edit: compose(form) }, form);
    } else if (form.matches("[data-edit]")) {
      event.preventDefault();
      step("steps/", { edit: compose(form) }, form);
    } else if (form.dataset.sure && !window.confirm(form.dataset.sure)) {
      event.preventDefault();
    } else if (find("[data-seen]", form)) {
      find("[data-seen]", form).value = state.step;
    }
  });
  place.addEventListener("input", (event) => {
    state.touched.add(event.target);
    const form = event.target.closest("form[data-edit]");
    if (event.target.matches("[data-model], [data-kind-select]")) depend(event.target);
    if (event.target.matches("[data-member], [data-group-model]")) askFactors(form);
    if (form && form.dataset.edit !== "split") checkSoon(form);
  });
  place.addEventListener("click", (event) => {
    const button = event.target.closest("button, a, [data-fold]");
    const item = event.target.closest("[data-tree] [role=treeitem]");
    if (button?.dataset.step) step("steps/", { edit: JSON.parse(button.dataset.step) });
    else if (button?.dataset.travel) step(`${button.dataset.travel}/`, {});
    else if (button?.dataset.opens) open(button.dataset.opens);
    else if (button?.dataset.closes !== undefined) close(button.closest("form"));
    else if (button?.dataset.choose) {
      event.preventDefault();
      choose(button.dataset.choose, "", { focus: true });
    } else if (event.target.closest("[data-fold]") && item) fold(item, item.getAttribute("aria-expanded") === "true");
    else if (item) choose(item.dataset.name, item.dataset.under, { focus: true });
  });

  // The form of a parameter comes when its row is opened.
  place.addEventListener("toggle", async (event) => {
    const row = event.target;
    const holder = row.open && row.dataset?.parameter && find("[data-filled-later]:empty", row);
    if (!holder) return;
    const answer = await fetch(`${base}pieces/?parameter=${encodeURIComponent(row.dataset.parameter)}`);
    const form = new DOMParser().parseFromString((await answer.json()).pieces.parameter, "text/html").getElementById("parameter");
    if (form) holder.replaceChildren(...form.childNodes);
    dress();
  }, true);

  function close(form) {
    form.hidden = true;
    mark()?.focus();
  }

  // The diagram chooses by a click on a box; signs still fold, and a double click shows the branch alone.
  find(".workplace__diagram").addEventListener("click", (event) => {
    const item = event.target.closest("[data-name]");
    if (!item || event.target.closest("[data-does=fold], [data-does=unfold]") || event.detail > 1) return;
    event.preventDefault();
    event.stopPropagation();
    choose(item.dataset.name, item.dataset.under);
  });

  // --- Keys --------------------------------------------------------------------------------------------------------

  const isGate = () => find("#chosen")?.dataset.kind && !["basic", "house", "transfer"].includes(find("#chosen").dataset.kind);

  async function addUnder(form) {
    await panel;
    if (!isGate() && state.under) await choose(state.under);
    open(form);
  }

  const COMMANDS = {
    e: () => addUnder("add-event"),
    g: () => addUnder("add-gate"),
    h: () => addUnder("add-house"),
    u: () => addUnder("use"),
    m: () => panel.then(() => open("move")),
    c: () => panel.then(() => open("copy")),
    w: () => panel.then(() => open("wrap")),
    t: () => panel.then(() => find("#c-kind")?.focus()),
    n: () => state.under && step("steps/", { edit: { do: "negate", name: state.chosen, under: state.under } }),
    Enter: () => panel.then(() => find("#c-label")?.focus()),
    Delete: () => step("steps/", { edit: { do: "remove", name: state.chosen, under: state.under } }),
  };

  function walk(key, item) {
    const shown = visible();
    const at = shown.indexOf(item);
    const isOpen = item.getAttribute("aria-expanded");
    const above = item.parentElement.closest("[role=treeitem]");
    if (key === "ArrowDown") return shown[at + 1];
    if (key === "ArrowUp") return shown[at - 1];
    if (key === "Home") return shown[0];
    if (key === "End") return shown[shown.length - 1];
    if (key === "ArrowLeft" && isOpen === "true") fold(item, true);
    else if (key === "ArrowLeft") return above;
    else if (key === "ArrowRight" && isOpen === "false") fold(item, false);
    else if (key === "ArrowRight" && isOpen === "true") return shown[at + 1];
    return null;
  }

  function neighbour(key) {
    const drawn = all("#diagram [data-name]");
    const here = drawn.find((item) => item.classList.contains("is-chosen"));
    if (!here) return drawn[0];
    if (key === "ArrowUp") return drawn.find((item) => item.dataset.name === here.dataset.under);
    if (key === "ArrowDown") return drawn.find((item) => item.dataset.under === here.dataset.name);
    const beside = drawn.filter((item) => item.dataset.under === here.dataset.under);
    return beside[beside.indexOf(here) + (key === "ArrowRight" ? 1 : -1)];
  }

  place.addEventListener("keydown", (event) => {
    const isTyping = event.target.matches("input, select, textarea");
    const inTree = event.target.closest("[data-tree]");
    const inDiagram = event.target.closest("[data-view]");
    if (event.key === "Escape" && event.target.closest("#chosen, #extras")) {
      const form = event.target.closest(".chosen__form");
      if (form?.closest("#chosen")) form.hidden = true;
      mark()?.focus();
      return event.preventDefault();
    }
    if (event.key === "Enter" && event.target.matches("select") && event.target.form?.dataset.edit) {
      event.preventDefault();
      return event.target.form.requestSubmit();
    }
    if ((event.ctrlKey || event.metaKey) && !isTyping && ["z", "y"].includes(event.key.toLowerCase())) {
      event.preventDefault();
      return step(event.key.toLowerCase() === "y" || event.shiftKey ? "redo/" : "undo/", {});
    }
    if (isTyping || event.ctrlKey || event.metaKey || !(inTree || inDiagram)) return undefined;
    const arrow = event.key.startsWith("Arrow") || event.key === "Home" || event.key === "End";
    if (event.altKey && ["ArrowUp", "ArrowDown"].includes(event.key) && state.under) {
      event.preventDefault();
      return step("steps/", { edit: { do: "shift", name: state.chosen, under: state.under, by: event.key === "ArrowUp" ? -1 : 1 } });
    }
    if (event.altKey) return undefined;
    if (arrow && inTree) {
      event.preventDefault();
      const next = walk(event.key, event.target.closest("[role=treeitem]"));
      return next && choose(next.dataset.name, next.dataset.under, { focus: true });
    }
    if (arrow && inDiagram && event.shiftKey) {
      event.preventDefault();
      event.stopPropagation();
      const next = neighbour(event.key);
      return next && choose(next.dataset.name, next.dataset.under);
    }
    if (event.target.closest("a") && event.key === "Enter") return undefined;
    const command = COMMANDS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!command) return undefined;
    event.preventDefault();
    return command();
  }, true);

  document.addEventListener("diagram-shown", mark);
  dress();
})();

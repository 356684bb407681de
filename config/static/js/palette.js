// The palette: Ctrl+K (Cmd+K on a Mac) or its button opens it. A combobox with a listbox: the focus stays in the field,
// arrow keys move aria-activedescendant. Pages and moves are read off the page itself, records come from the search.
document.querySelectorAll("[data-palette-open]").forEach((opener) => {
  const palette = document.getElementById("palette");
  const field = palette.querySelector("input");
  const list = document.getElementById("palette-list");
  const found = document.getElementById("palette-found");
  const status = palette.querySelector("[data-palette-status]");
  const place = (name) => palette.querySelector(`[data-palette="${name}"]`);
  const isMac = /mac|iphone|ipad/i.test(navigator.userAgentData?.platform ?? navigator.platform);
  let choices = { here: [], pages: [] };
  let active = null;
  let isSearching = false;
  let isByHand = false; // the person chose among what is there, so what arrives later doesn't choose for them

  const tidy = (text) => (text ?? "").replace(/\s+/g, " ").trim();
  const fold = (text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();

  // What stands around a button tells two of the same name apart.
  function nameAround(element) {
    const row = element.closest(".entries__item")?.querySelector("strong, .entries__line a, .entries__line");
    const section = element.closest("section, .plate, details")?.querySelector("h2, h3, summary");
    return tidy((row ?? section)?.textContent).slice(0, 80);
  }

  function readPage() {
    const usable = (each) => each.checkVisibility() && !each.disabled && !each.closest(".move");
    const offered = document.querySelectorAll("main .offers a, main a.button, main button");
    const here = [...offered].filter(usable).map((source) => {
      const name = tidy(source.getAttribute("aria-label") ?? source.textContent);
      return { name, where: nameAround(source), source, url: source.href ?? "" };
    });
    const links = document.querySelectorAll(".masthead__nav a, .masthead__notices");
    const pages = [...links].map((source) => ({ name: tidy(source.textContent), where: "", source, url: source.href }));
    return { here: here.filter((each) => each.name), pages };
  }

  // Those that hold every word, one of them in their name; names that begin with the first one foremost.
  function pick(rows, words) {
    const parts = fold(words).split(" ").filter(Boolean);
    const says = (text) => (part) => fold(text).includes(part);
    const holds = (row) => parts.every(says(`${row.name} ${row.where}`)) && (!parts.length || parts.some(says(row.name)));
    const rank = (row) => (parts.length && fold(row.name).startsWith(parts[0]) ? 0 : 1);
    return rows.filter(holds).sort((one, other) => rank(one) - rank(other));
  }

  function makeOption({ name, where, url }, id) {
    const option = document.createElement(url ? "a" : "div");
    option.id = id;
    option.className = "palette__option";
    option.setAttribute("role", "option");
    option.setAttribute("aria-selected", "false");
    if (url) Object.assign(option, { href: url, tabIndex: -1 });
    for (const [text, css] of [[name, ""], [where, "palette__where"]]) {
      const part = option.appendChild(document.createElement("span"));
      part.textContent = text;
      part.className = css;
      if (!text) part.remove();
    }
    return option;
  }

  const options = () => [...list.querySelectorAll('[role="option"]')];

  function choose(option) {
    active?.setAttribute("aria-selected", "false");
    active = option ?? null;
    active?.setAttribute("aria-selected", "true");
    active?.scrollIntoView({ block: "nearest" });
    if (active) field.setAttribute("aria-activedescendant", active.id);
    else field.removeAttribute("aria-activedescendant");
  }

  function say() {
    const count = options().length - place("all").childElementCount;
    const told = count === 1 ? "1 choice" : `${count} choices`;
    status.textContent = isSearching ? `${told}, searching records` : told;
  }

  // Groups without options are hidden, and so is a list without any. A name that begins with the words is chosen first.
  function settle(keep) {
    for (const group of list.querySelectorAll('[role="group"]')) group.hidden = !group.querySelector('[role="option"]');
    const all = options();
    list.hidden = !all.length;
    field.setAttribute("aria-expanded", String(all.length > 0));
    const best = all.find((each) => fold(each.textContent).startsWith(fold(tidy(field.value))));
    choose(keep && all.includes(active) ? active : (best ?? all[0]));
    say();
  }

  function show() {
    const words = tidy(field.value);
    for (const name of ["here", "pages"]) {
      const rows = pick(choices[name], words);
      place(name).replaceChildren(
        ...rows.map((row, index) => {
          const option = makeOption(row, `palette-${name}-${index}`);
          option.source = row.source;
          return option;
        }),
      );
    }
    const address = `${place("all").dataset.search}?words=${encodeURIComponent(words)}`;
    const all = { name: `Search all records for “${words}”`, where: "", url: address };
    place("all").replaceChildren(...(words ? [makeOption(all, "palette-all")] : []));
    found.replaceChildren(); // what was found for other words can't be gone to by mistake
    isSearching = Boolean(words);
    htmx.trigger(field, "htmx:abort");
    if (words) htmx.trigger(field, "palette-search");
    settle(false);
  }

  function open() {
    if (palette.open || document.querySelector("dialog[open]")) return;
    choices = readPage();
    field.value = "";
    palette.showModal();
    field.focus();
    show();
  }

  // A link is followed as if it were pressed where it stands; a button is only gone to: pressing it is a second act.
  function go(option) {
    const { source } = option;
    palette.close();
    if (!source) window.location.assign(option.href);
    else if (source.href) source.click();
    else {
      source.scrollIntoView({ block: "center" });
      source.focus();
    }
  }

  opener.hidden = false;
  opener.setAttribute("aria-keyshortcuts", isMac ? "Meta+K" : "Control+K");
  opener.querySelector("[data-palette-key]").textContent = opener.title = isMac ? "⌘K" : "Ctrl K";
  opener.addEventListener("click", open);
  palette.querySelector("[data-palette-close]").addEventListener("click", () => palette.close());

  document.addEventListener("keydown", (event) => {
    const isAsked = (isMac ? event.metaKey : event.ctrlKey) && !event.altKey && !event.shiftKey;
    if (!isAsked || event.key.toLowerCase() !== "k") return;
    event.preventDefault();
    if (palette.open) palette.close();
    else open();
  });

  field.addEventListener("input", show);
  field.addEventListener("keydown", (event) => {
    if (event.isComposing) return;
    const all = options();
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    isByHand = Boolean(step);
    if (step && all.length) {
      event.preventDefault();
      choose(all[(all.indexOf(active) + step + all.length) % all.length]);
    } else if (event.key === "Enter") {
      event.preventDefault();
      if (active) go(active);
    }
  });

  palette.addEventListener("click", (event) => {
    const option = event.target.closest('[role="option"]');
    if (event.target === palette) palette.close(); // beside it
    if (!option || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    go(option);
  });

  field.addEventListener("htmx:afterRequest", (event) => {
    if (!event.detail.successful) return;
    isSearching = false;
    settle(isByHand);
  });
  for (const failure of ["htmx:responseError", "htmx:sendError", "htmx:timeout"]) {
    field.addEventListener(failure, () => {
      isSearching = false;
      say();
      status.textContent += "; records can't be searched just now";
    });
  }
});

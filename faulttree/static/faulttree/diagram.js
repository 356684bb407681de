// Pan, zoom and unfold the fault-tree diagram. Without this script it scrolls, and every link is a page.
(() => {
  const KEYS = {
    ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1],
  };
  const FULL = 1.15;      // drawing units per CSS pixel are never below 1 / FULL by fitting
  const SMALLEST = 0.86;  // fitting never makes text smaller than this share of full size

  class Viewer {
    constructor(section) {
      this.section = section;
      this.view = section.querySelector("[data-view]");
      this.svg = this.view.querySelector("svg");
      const [x, y, width, height] = this.svg.getAttribute("viewBox").split(" ").map(Number);
      this.whole = { x, y, width, height };
      this.pointers = new Map();
      this.view.classList.add("is-live");
      section.querySelector("[data-zoom]").hidden = false;
      this.listen();
      this.fit();
    }

    // What the window shows: its upper left corner and the scale, CSS pixels per unit.
    show(x, y, scale) {
      const box = this.view.getBoundingClientRect();
      this.scale = Math.min(Math.max(scale, 0.04), 4);
      this.x = x;
      this.y = y;
      this.svg.setAttribute("viewBox", `${x} ${y} ${box.width / this.scale} ${box.height / this.scale}`);
      this.svg.setAttribute("preserveAspectRatio", "xMinYMin meet");
    }

    showWhole() {
      const { x, y, width, height } = this.whole;
      this.svg.setAttribute("viewBox", `${x} ${y} ${width} ${height}`);
      this.svg.setAttribute("preserveAspectRatio", "xMidYMin meet");
    }

    fit(all = false) {
      const box = this.view.getBoundingClientRect();
      const exact = Math.min(box.width / this.whole.width, box.height / this.whole.height);
      const scale = Math.min(all ? exact : Math.max(exact, SMALLEST), FULL);
      const top = this.section.querySelector(".is-top .ft-box")?.getBBox();
      const middle = top && exact < scale ? top.x + top.width / 2 : this.whole.x + this.whole.width / 2;
      this.show(middle - box.width / scale / 2, this.whole.y, scale);
    }

    zoom(by, clientX, clientY) {
      const box = this.view.getBoundingClientRect();
      const px = (clientX ?? box.left + box.width / 2) - box.left;
      const py = (clientY ?? box.top + box.height / 2) - box.top;
      const scale = Math.min(Math.max(this.scale * by, 0.04), 4);
      this.show(this.x + px / this.scale - px / scale, this.y + py / this.scale - py / scale, scale);
    }

    move(dx, dy) {
      this.show(this.x + dx / this.scale, this.y + dy / this.scale, this.scale);
    }

    listen() {
      const view = this.view;
      view.addEventListener("wheel", (event) => {
        if (!event.ctrlKey && !event.metaKey) return;
        event.preventDefault();
        this.zoom(Math.exp(-event.deltaY * 0.004), event.clientX, event.clientY);
      }, { passive: false });
      view.addEventListener("pointerdown", (event) => {
        this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
        this.travelled = 0;
      });
      view.addEventListener("pointermove", (event) => this.drag(event));
      for (const name of ["pointerup", "pointercancel", "pointerleave"]) {
        view.addEventListener(name, (event) => {
          this.pointers.delete(event.pointerId);
          if (!this.pointers.size) view.classList.remove("is-dragged");
        });
      }
      view.addEventListener("dragstart", (event) => event.preventDefault());
      view.addEventListener("click", (event) => {
        if (this.travelled > 6) {
          event.preventDefault();
          event.stopPropagation();
        }
      }, true);
      view.addEventListener("keydown", (event) => this.press(event));
      view.addEventListener("focusin", (event) => this.reveal(event.target));
      for (const button of this.section.querySelectorAll("[data-zoom-by]")) {
        button.addEventListener("click", () => this.zoom(Number(button.dataset.zoomBy)));
      }
      this.section.querySelector("[data-zoom-fit]").addEventListener("click", () => this.fit(true));
    }

    drag(event) {
      const before = this.pointers.get(event.pointerId);
      if (!before) return;
      const [x, y] = [event.clientX, event.clientY];
      if (this.pointers.size === 1) {
        this.travelled += Math.abs(x - before[0]) + Math.abs(y - before[1]);
        if (this.travelled > 6) this.view.classList.add("is-dragged");
        this.move(before[0] - x, before[1] - y);
      } else {
        const other = [...this.pointers.entries()].find(([id]) => id !== event.pointerId)[1];
        const was = Math.hypot(before[0] - other[0], before[1] - other[1]);
        const is = Math.hypot(x - other[0], y - other[1]);
        this.travelled = 100;
        if (was > 0) this.zoom(is / was, (x + other[0]) / 2, (y + other[1]) / 2);
      }
      this.pointers.set(event.pointerId, [x, y]);
    }

    press(event) {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const way = KEYS[event.key];
      if (way) this.move(way[0] * 60, way[1] * 60);
      else if (event.key === "+" || event.key === "=") this.zoom(1.25);
      else if (event.key === "-") this.zoom(0.8);
      else if (event.key === "0") this.fit(true);
      else return;
      event.preventDefault();
    }

    // A link that is reached by Tab comes into the window.
    reveal(target) {
      if (!(target instanceof SVGElement) || !target.matches(":focus-visible")) return;
      const box = this.view.getBoundingClientRect();
      const it = target.getBoundingClientRect();
      const margin = 24;
      const dx = it.left < box.left + margin ? it.left - box.left - margin : Math.max(0, it.right - box.right + margin);
      const dy = it.top < box.top + margin ? it.top - box.top - margin : Math.max(0, it.bottom - box.bottom + margin);
      this.view.scrollTo(0, 0);
      if (dx || dy) this.move(dx, dy);
    }

    // Bring a box into the window, if it is drawn and isn't there.
    bring(name) {
      const it = this.placeOf(name);
      if (!it) return;
      const box = this.view.getBoundingClientRect();
      const isIn = it.left >= box.left && it.right <= box.right && it.top >= box.top && it.bottom <= box.bottom;
      if (!isIn) this.move((it.left + it.right - box.left - box.right) / 2, it.top - box.top - box.height / 3);
    }

    placeOf(name) {
      const item = [...this.svg.querySelectorAll("[data-name]")].find((node) => node.dataset.name === name);
      return item?.getBoundingClientRect();
    }
  }

  let viewer = null;
  let shown = pageOf(window.location);

  function pageOf(location) {
    return location.pathname + location.search;
  }

  function start() {
    const section = document.querySelector("[data-diagram]");
    viewer = section ? new Viewer(section) : null;
    if (viewer) document.dispatchEvent(new CustomEvent("diagram-shown"));
  }

  // Another script put a new drawing in place of the old one: look at the same spot.
  function restart() {
    const kept = viewer && { x: viewer.x, y: viewer.y, scale: viewer.scale, width: viewer.whole.width };
    start();
    if (kept && viewer && kept.scale && viewer.whole.width >= kept.width / 2) viewer.show(kept.x, kept.y, kept.scale);
  }

  // Fetch the sheet that a link asks for; a gate that is folded or unfolded keeps its place under the pointer.
  async function follow(link) {
    const address = link.getAttribute("href").split("#")[0] || "?";
    const does = link.dataset.does;
    const name = link.closest("[data-name]")?.dataset.name;
    const kept = { scale: viewer.scale, place: name && viewer.placeOf(name), does };
    viewer.section.classList.add("is-loading");
    const answer = await fetch(address, { headers: { "HX-Request": "true", "HX-Target": "diagram" } });
    const text = await answer.text();
    const piece = new DOMParser().parseFromString(text, "text/html").querySelector("#diagram");
    if (!answer.ok || !piece) {
      window.location.assign(address + "#diagram");
      return;
    }
    viewer.section.replaceWith(piece);
    window.history.pushState(null, "", address + "#diagram");
    shown = pageOf(window.location);
    start();
    if (kept.place && does !== "focus") keepPlace(name, kept);
    const again = name && [...viewer.svg.querySelectorAll("[data-name]")].find((node) => node.dataset.name === name);
    (again?.querySelector("a") ?? viewer.view).focus({ preventScroll: true });
  }

  function keepPlace(name, kept) {
    const box = viewer.view.getBoundingClientRect();
    viewer.show(viewer.x, viewer.y, kept.scale);
    const now = viewer.placeOf(name);
    if (now) viewer.move(now.left + now.width / 2 - kept.place.left - kept.place.width / 2, now.top - kept.place.top);
    if (!now || now.width > box.width) viewer.fit();
  }

  document.addEventListener("click", (event) => {
    const link = event.target.closest(".ft-link, [data-sheet-link]");
    if (!link || !viewer || event.defaultPrevented || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    follow(link);
  });
  // Back and forward lead to another sheet; a link to a place on this page does not.
  window.addEventListener("popstate", () => {
    if (pageOf(window.location) !== shown) window.location.reload();
  });
  document.addEventListener("htmx:pushedIntoHistory", () => { shown = pageOf(window.location); });
  // Paper has no window to look through: the whole drawing is printed.
  window.addEventListener("beforeprint", () => viewer && viewer.showWhole());
  window.addEventListener("afterprint", () => viewer && viewer.fit());
  window.addEventListener("resize", () => viewer && viewer.show(viewer.x, viewer.y, viewer.scale));
  document.addEventListener("diagram-replaced", restart);
  document.addEventListener("diagram-bring", (event) => viewer && viewer.bring(event.detail));
  document.addEventListener("DOMContentLoaded", start);
})();

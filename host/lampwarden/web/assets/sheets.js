// The page Sheets in the browser: the drawing on which cells are laid out, and the photo that is straightened.
"use strict";
(() => {
  const CELL_MM_MIN = 5;
  const STEP_MM = 10; // with Ctrl
  const PAUSE_MS = 1500; // key presses with no longer pause between them are undone together
  const make = (tag, classes, holder, text = "") => {
    const made = document.createElement(tag);
    made.className = classes;
    made.textContent = text;
    if (holder) holder.append(made);
    return made;
  };
  const round = Math.round;
  const between = (low, value, high) => Math.min(Math.max(value, low), high);

  // --- the drawing: <sheet-board data-board="{...}">. It shows what the server says and tells what a person does:
  // `lay` (a cell at another place), `draw` (a new one), `choose`, `discard`. The server has the last word: each of its
  // answers carries the number of the last change it heard, and older answers are not shown.
  class SheetBoard extends HTMLElement {
    static observedAttributes = ["data-board"];

    connectedCallback() {
      if (this.paper) return;
      this.across = make("div", "sh-ruler sh-across", this);
      this.down = make("div", "sh-ruler sh-down", this);
      this.across.ariaHidden = this.down.ariaHidden = "true";
      this.paper = make("div", "sh-paper", this);
      this.paper.role = "group";
      this.paper.ariaLabel = "Sheet, drawn to proportion";
      this.zones = make("div", "sh-zones", this.paper);
      this.zones.ariaHidden = "true";
      this.band = make("div", "sh-band", this.paper);
      this.band.hidden = true;
      this.said = make("p", "sh-said-now", this);
      this.said.setAttribute("aria-live", "polite");
      this.cells = new Map();
      this.seq = 0;
      this.gestures = 0;
      this.paper.addEventListener("pointerdown", (e) => this.begin(e));
      this.paper.addEventListener("pointermove", (e) => this.follow(e));
      this.paper.addEventListener("pointerup", (e) => this.finish(e));
      this.paper.addEventListener("pointercancel", () => this.give_up());
      this.paper.addEventListener("click", (e) => this.click(e));
      this.paper.addEventListener("keydown", (e) => this.key(e));
      this.draw();
    }

    attributeChangedCallback() {
      if (this.paper) this.draw();
    }

    draw() {
      const board = JSON.parse(this.dataset.board || "null");
      if (!board || board.seq < this.seq || this.gesture) return;
      this.board = board;
      this.style.setProperty("--w", board.width);
      this.style.setProperty("--h", board.height);
      this.dataset.drawing = board.drawing ? "yes" : "no";
      this.paper.style.backgroundImage = board.photo ? `url("${board.photo}")` : "";
      this.dataset.photo = board.photo ? "yes" : "no";
      this.rulers();
      this.zones.replaceChildren();
      for (const zone of board.zones) {
        const made = make("div", "sh-zone", this.zones);
        make("span", "", made, zone.name);
        this.place(made, zone);
      }
      this.dataset.many = board.cells.filter((cell) => cell.chosen).length > 1 ? "yes" : "no";
      const old = new Map(this.cells);
      for (const cell of board.cells) {
        const made = this.cells.get(cell.name) || this.build(cell.name);
        old.delete(cell.name);
        if (!made.parentNode) this.paper.append(made);
        this.fill(made, cell);
      }
      for (const [name, gone] of old) {
        gone.remove();
        this.cells.delete(name);
      }
      if (this.laid && this.laid.words !== this.words(this.laid.made.at)) this.said.textContent = ""; // it was undone
    }

    rulers() {
      const { width, height } = this.board;
      for (const [ruler, length, edge] of [[this.across, width, "left"], [this.down, height, "top"]]) {
        ruler.replaceChildren();
        const every = length > 600 ? 200 : length > 300 ? 100 : length > 120 ? 50 : 20;
        for (let mm = 0; mm <= length; mm += every) {
          const mark = make("span", "", ruler, `${mm}`);
          mark.style[edge] = `${(100 * mm) / length}%`;
          if (mm + every / 3 > length) mark.dataset.end = "yes";
        }
      }
    }

    build(name) {
      const made = make("button", "sh-cell-box", null);
      made.type = "button";
      make("b", "", made, name);
      make("span", "", made);
      for (const corner of ["nw", "ne", "sw", "se"]) {
        const handle = make("i", `sh-handle sh-${corner}`, made);
        handle.dataset.corner = corner;
      }
      this.cells.set(name, made);
      return made;
    }

    fill(made, cell) {
      made.dataset.name = cell.name;
      made.dataset.kind = cell.kind;
      made.dataset.wet = cell.wet ? "yes" : "no";
      made.ariaPressed = cell.chosen ? "true" : "false";
      made.children[1].textContent = cell.words;
      made.ariaLabel = `${cell.says}. ${this.words(cell)}`;
      made.at = { x: cell.x, y: cell.y, width: cell.width, height: cell.height };
      this.place(made, made.at);
    }

    words(at) {
      return `${round(at.width)} by ${round(at.height)} mm, ${round(at.x)} mm from the left, ${round(at.y)} mm from the top`;
    }

    place(made, at) {
      made.style.left = `${(100 * at.x) / this.board.width}%`;
      made.style.top = `${(100 * at.y) / this.board.height}%`;
      made.style.width = `${(100 * at.width) / this.board.width}%`;
      made.style.height = `${(100 * at.height) / this.board.height}%`;
    }

    // The first other cell that this area would overlap.
    clash(at, name) {
      for (const [other, made] of this.cells) {
        const o = made.at;
        if (other === name) continue;
        if (at.x < o.x + o.width && o.x < at.x + at.width && at.y < o.y + o.height && o.y < at.y + at.height) return other;
      }
      return "";
    }

    mm(event) {
      const rect = this.paper.getBoundingClientRect();
      return {
        x: ((event.clientX - rect.left) / rect.width) * this.board.width,
        y: ((event.clientY - rect.top) / rect.height) * this.board.height,
      };
    }

    // --- pointer
    begin(event) {
      this.handled = false;
      if (event.button !== 0 || this.gesture || !this.board) return;
      const finger = event.pointerType === "touch";
      const made = event.target.closest(".sh-cell-box");
      const start = this.mm(event);
      if (made) {
        if (finger && made.ariaPressed !== "true") return; // it may be the page that is being scrolled
        const kind = event.target.dataset.corner ? "size" : "move";
        this.gesture = { kind, made, corner: event.target.dataset.corner, start, from: { ...made.at }, now: { ...made.at } };
      } else {
        if (finger && this.dataset.drawing !== "yes") return;
        this.gesture = { kind: "draw", start, now: { x: start.x, y: start.y, width: 0, height: 0 } };
      }
      this.gesture.number = ++this.gestures;
      this.paper.setPointerCapture(event.pointerId);
    }

    follow(event) {
      const g = this.gesture;
      if (!g) return;
      const { width, height } = this.board;
      const at = this.mm(event);
      if (!g.moved && Math.hypot(at.x - g.start.x, at.y - g.start.y) * (this.paper.clientWidth / width) < 4) return;
      g.moved = true;
      if (g.kind === "move") {
        g.now.x = between(0, round(g.from.x + at.x - g.start.x), Math.max(0, width - g.now.width));
        g.now.y = between(0, round(g.from.y + at.y - g.start.y), Math.max(0, height - g.now.height));
      } else {
        const fixed = g.kind === "draw" ? { x: round(g.start.x), y: round(g.start.y) } : this.opposite(g);
        const x = between(0, round(at.x), width);
        const y = between(0, round(at.y), height);
        g.now = {
          x: Math.min(x, fixed.x), y: Math.min(y, fixed.y), width: Math.abs(x - fixed.x), height: Math.abs(y - fixed.y),
        };
      }
      const shown = g.kind === "draw" ? this.band : g.made;
      if (g.kind === "draw") this.band.hidden = false;
      const clash = this.clash(g.now, g.made?.dataset.name);
      shown.dataset.clash = clash ? "yes" : "no";
      this.said.textContent = this.words(g.now) + (clash ? `: overlaps ${clash}` : "");
      this.place(shown, g.now);
    }

    opposite(g) {
      const { x, y, width, height } = g.from;
      return { x: g.corner.endsWith("w") ? x + width : x, y: g.corner.startsWith("n") ? y + height : y };
    }

    finish(event) {
      const g = this.gesture;
      if (!g) return;
      this.gesture = null;
      this.handled = true;
      this.band.hidden = true;
      if (g.made) g.made.dataset.clash = "no";
      const name = g.made?.dataset.name || "";
      if (!g.moved) {
        this.choose(name, event.shiftKey || event.ctrlKey || event.metaKey);
      } else if (g.kind === "draw") {
        if (g.now.width >= CELL_MM_MIN && g.now.height >= CELL_MM_MIN) this.tell("draw", { ...g.now, seq: ++this.seq });
        else this.said.textContent = `A cell needs at least ${CELL_MM_MIN} mm on each side.`;
      } else {
        this.lay(g.made, g.now, `drag ${g.number}`);
      }
    }

    give_up() {
      this.gesture = null;
      this.band.hidden = true;
      this.draw();
    }

    click(event) {
      if (this.handled) {
        this.handled = false;
        return;
      }
      const made = event.target.closest(".sh-cell-box");
      this.choose(made ? made.dataset.name : "", event.shiftKey || event.ctrlKey || event.metaKey);
    }

    choose(name, more) {
      this.tell("choose", { name, more: Boolean(more && name) });
    }

    // --- keyboard
    key(event) {
      const made = event.target.closest(".sh-cell-box");
      if (!made || event.altKey || event.metaKey) return;
      if (event.key === "Delete" || event.key === "Backspace") {
        event.preventDefault();
        if (made.ariaPressed !== "true") this.choose(made.dataset.name, false);
        this.tell("discard", null);
        return;
      }
      const [dx, dy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key] || [0, 0];
      if (!dx && !dy) return;
      event.preventDefault();
      const step = event.ctrlKey ? STEP_MM : 1;
      const at = { ...made.at };
      if (event.shiftKey) {
        at.width = between(CELL_MM_MIN, at.width + dx * step, this.board.width - at.x);
        at.height = between(CELL_MM_MIN, at.height + dy * step, this.board.height - at.y);
      } else {
        at.x = between(0, at.x + dx * step, this.board.width - at.width);
        at.y = between(0, at.y + dy * step, this.board.height - at.height);
      }
      const now = performance.now();
      if (now - (this.pressed || 0) > PAUSE_MS || this.last !== made) this.gestures += 1;
      this.pressed = now;
      this.last = made;
      this.lay(made, at, `keys ${this.gestures}`);
    }

    lay(made, at, gesture) {
      made.at = at;
      this.place(made, at);
      this.said.textContent = this.words(at);
      this.laid = { made, words: this.said.textContent };
      this.tell("lay", { name: made.dataset.name, ...at, gesture, seq: ++this.seq });
    }

    tell(type, detail) {
      this.dispatchEvent(new CustomEvent(type, { detail }));
    }
  }

  // --- the photo: <sheet-corners data-size="width height">. Four rings are put on the sheet's corners, the quadrilateral
  // between them is drawn as a rectangle of the sheet's proportion, and the small JPEG goes to the server.
  const EDGE_PX = 1600;
  const BYTES_MAX = 250000;
  const SHOWN_PX = 1200;

  class SheetCorners extends HTMLElement {
    connectedCallback() {
      if (this.canvas) return;
      this.canvas = make("canvas", "", this);
      this.canvas.ariaLabel = "Your photo";
      this.canvas.role = "img";
      this.lines = document.createElementNS("http://www.w3.org/2000/svg", "svg");
      this.lines.setAttribute("viewBox", "0 0 1 1");
      this.lines.setAttribute("preserveAspectRatio", "none");
      this.lines.innerHTML = "<polygon/>";
      this.append(this.lines);
      this.rings = ["1, upper left", "2, upper right", "3, lower right", "4, lower left"].map((words, n) => {
        const ring = make("button", "sh-ring", this, `${n + 1}`);
        ring.type = "button";
        ring.ariaLabel = `Corner ${words}`;
        ring.addEventListener("pointerdown", (e) => ring.setPointerCapture(e.pointerId));
        ring.addEventListener("pointermove", (e) => {
          if (ring.hasPointerCapture(e.pointerId)) this.put(n, this.share(e));
        });
        ring.addEventListener("keydown", (e) => {
          const [dx, dy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key] || [0, 0];
          if (!dx && !dy) return;
          e.preventDefault();
          const step = e.ctrlKey ? 0.02 : 0.002;
          this.put(n, [this.at[n][0] + dx * step, this.at[n][1] + dy * step]);
        });
        return ring;
      });
      this.at = [[0, 0], [1, 0], [1, 1], [0, 1]];
      corners = this;
      if (waiting) this.load(waiting);
    }

    disconnectedCallback() {
      if (corners === this) corners = null;
    }

    async load(file) {
      waiting = null;
      let picture;
      try {
        picture = await createImageBitmap(file);
      } catch {
        this.tell("refused", "This browser cannot read that file. Choose a JPEG or PNG photo.");
        return;
      }
      const scale = Math.min(1, (2 * EDGE_PX) / Math.max(picture.width, picture.height));
      this.full = new OffscreenCanvas(round(picture.width * scale), round(picture.height * scale));
      this.full.getContext("2d", { willReadFrequently: true }).drawImage(picture, 0, 0, this.full.width, this.full.height);
      const small = Math.min(1, SHOWN_PX / Math.max(this.full.width, this.full.height));
      this.canvas.width = round(this.full.width * small);
      this.canvas.height = round(this.full.height * small);
      this.canvas.getContext("2d").drawImage(this.full, 0, 0, this.canvas.width, this.canvas.height);
      [[0.06, 0.06], [0.94, 0.06], [0.94, 0.94], [0.06, 0.94]].forEach((at, n) => this.put(n, at));
    }

    share(event) {
      const rect = this.canvas.getBoundingClientRect();
      return [(event.clientX - rect.left) / rect.width, (event.clientY - rect.top) / rect.height];
    }

    put(n, [x, y]) {
      this.at[n] = [between(0, x, 1), between(0, y, 1)];
      this.rings[n].style.left = `${100 * this.at[n][0]}%`;
      this.rings[n].style.top = `${100 * this.at[n][1]}%`;
      this.lines.firstElementChild.setAttribute("points", this.at.map((at) => at.join(",")).join(" "));
    }

    async use() {
      if (!this.full) return;
      const [width_mm, height_mm] = this.dataset.size.split(" ").map(Number);
      const scale = EDGE_PX / Math.max(width_mm, height_mm);
      const flat = flatten(this.full, this.at, round(width_mm * scale), round(height_mm * scale));
      let blob;
      for (const quality of [0.85, 0.7, 0.5, 0.3, 0.15]) {
        blob = await flat.convertToBlob({ type: "image/jpeg", quality });
        if (blob.size <= BYTES_MAX) break;
      }
      try {
        const answer = await fetch("/sheet-pictures", { method: "POST", headers: { "content-type": "image/jpeg" }, body: blob });
        const said = await answer.json();
        if (!answer.ok) throw new Error(said.detail);
        this.tell("photo", said.photo);
      } catch (error) {
        this.tell("refused", `The photo was not kept. ${error.message}`);
      }
    }

    tell(type, detail) {
      this.dispatchEvent(new CustomEvent(type, { detail }));
    }
  }

  // The square's map onto four points (P. Heckbert, 1989, "Fundamentals of Texture Mapping", section 2.2.3), sampled
  // between the nearest four pixels.
  const flatten = (full, corners, width, height) => {
    const [p0, p1, p2, p3] = corners.map(([x, y]) => [x * (full.width - 1), y * (full.height - 1)]);
    const sum = [p0[0] - p1[0] + p2[0] - p3[0], p0[1] - p1[1] + p2[1] - p3[1]];
    const d1 = [p1[0] - p2[0], p1[1] - p2[1]];
    const d2 = [p3[0] - p2[0], p3[1] - p2[1]];
    const det = d1[0] * d2[1] - d2[0] * d1[1] || 1e-9;
    const g = (sum[0] * d2[1] - d2[0] * sum[1]) / det;
    const h = (d1[0] * sum[1] - sum[0] * d1[1]) / det;
    const [a, b, c] = [p1[0] - p0[0] + g * p1[0], p3[0] - p0[0] + h * p3[0], p0[0]];
    const [d, e, f] = [p1[1] - p0[1] + g * p1[1], p3[1] - p0[1] + h * p3[1], p0[1]];
    const from = full.getContext("2d").getImageData(0, 0, full.width, full.height);
    const flat = new OffscreenCanvas(width, height);
    const context = flat.getContext("2d");
    const to = context.createImageData(width, height);
    for (let row = 0, at = 0; row < height; row++) {
      const v = (row + 0.5) / height;
      for (let column = 0; column < width; column++, at += 4) {
        const u = (column + 0.5) / width;
        const w = g * u + h * v + 1;
        const x = between(0, (a * u + b * v + c) / w, full.width - 1.001);
        const y = between(0, (d * u + e * v + f) / w, full.height - 1.001);
        const left = Math.floor(x);
        const top = Math.floor(y);
        const [rx, ry] = [x - left, y - top];
        const here = 4 * (top * full.width + left);
        const below = here + 4 * full.width;
        for (let band = 0; band < 3; band++) {
          const upper = from.data[here + band] * (1 - rx) + from.data[here + 4 + band] * rx;
          const lower = from.data[below + band] * (1 - rx) + from.data[below + 4 + band] * rx;
          to.data[at + band] = upper * (1 - ry) + lower * ry;
        }
        to.data[at + 3] = 255;
      }
    }
    context.putImageData(to, 0, 0);
    return flat;
  };

  let corners = null;
  let waiting = null;
  window.lampwardenSheets = {
    take: (file) => {
      if (!file) return;
      waiting = file;
      if (corners) corners.load(file);
    },
    use: () => corners?.use(),
  };
  customElements.define("sheet-board", SheetBoard);
  customElements.define("sheet-corners", SheetCorners);

  // --- undo and redo by keyboard, outside of text fields
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || event.target.closest("input, textarea, select")) return;
    const key = event.key.toLowerCase();
    const wanted = key === "z" && !event.shiftKey ? "undo" : key === "y" || key === "z" ? "redo" : "";
    const button = wanted && document.querySelector(`.sh-buttons [data-key="${wanted}"]`);
    if (!button) return;
    event.preventDefault();
    button.click();
  });
})();

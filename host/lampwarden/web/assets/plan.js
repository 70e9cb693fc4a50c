// The bars and flags of a plan: pulled with a pointer or moved by arrow keys. The server keeps the numbers; here they are
// only shown while they are on their way, and told to it as events on the timetable.
"use strict";
(() => {
  const SNAP_S = 300;
  const TELL_MS = 120; // while it moves, the server is told this often
  const REST_MS = 700; // so long after the last arrow key the move is over
  const SHOW_MS = 400; // so long a place stands before the server's own takes over

  const snap = (s) => Math.round(s / SNAP_S) * SNAP_S;
  const words = (s) => {
    const minutes = Math.round(s / 60);
    return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")} h`;
  };
  const timetable = (element) => element.closest(".plan-time");
  const spanOf = (element) => Number(timetable(element).dataset.span);
  const tell = (element, name, detail) =>
    timetable(element).dispatchEvent(new CustomEvent(name, { detail }));

  const isBar = (element) => element.classList.contains("plan-bar");
  const read = (element) =>
    isBar(element)
      ? { start: Number(element.dataset.start), end: Number(element.dataset.endAt) }
      : { start: Number(element.dataset.at), end: Number(element.dataset.at) };

  // What is shown while the server does not know yet.
  const draw = (element, place) => {
    const span = spanOf(element);
    element.dataset.moving = "yes";
    element.style.setProperty("--drag-from", place.start / span);
    element.style.setProperty("--drag-to", place.end / span);
    element.dataset.hint = isBar(element) ? `${words(place.start)} – ${words(place.end)}` : words(place.start);
  };
  const undraw = (element) => {
    delete element.dataset.moving;
    delete element.dataset.hint;
    element.style.removeProperty("--drag-from");
    element.style.removeProperty("--drag-to");
  };
  const report = (element, what, place, moving) => {
    if (isBar(element))
      tell(element, "planbar", {
        zone: Number(element.parentElement.dataset.zone),
        bar: Number(element.dataset.bar),
        what,
        start_s: place.start,
        end_s: place.end,
        moving,
      });
    else tell(element, "planflag", { flag: element.dataset.flag, at_s: place.start, moving });
  };

  // A place moved by some seconds. `what`: move, start or end.
  const moved = (from, what, by, span) => {
    if (what === "start") return { start: Math.min(Math.max(0, snap(from.start + by)), from.end - SNAP_S), end: from.end };
    if (what === "end") return { start: from.start, end: Math.max(snap(from.end + by), from.start + SNAP_S) };
    const start = Math.min(Math.max(0, snap(from.start + by)), span);
    return { start, end: from.end + start - from.start };
  };

  // --- by pointer
  let drag = null;
  document.addEventListener("pointerdown", (event) => {
    const element = event.target.closest?.(".plan-bar, .plan-flag");
    if (!element || event.button) return;
    const what = event.target.dataset.end || "move";
    drag = { element, what, x: event.clientX, from: read(element), place: null, told: 0, flag: element.dataset.flag };
    element.setPointerCapture(event.pointerId);
    element.focus({ preventScroll: true });
    event.preventDefault();
  });
  document.addEventListener("pointermove", (event) => {
    if (!drag) return;
    const { element, what, from } = drag;
    const track = timetable(element).querySelector(".plan-track").getBoundingClientRect();
    const by = ((event.clientX - drag.x) / track.width) * spanOf(element);
    const place = moved(from, what, by, spanOf(element));
    const before = drag.place || from;
    if (place.start === before.start && place.end === before.end) return;
    drag.place = place;
    draw(element, place);
    const now = performance.now();
    if (now - drag.told > TELL_MS) {
      drag.told = now;
      report(element, what, place, true);
    }
  });
  const drop = (taken) => {
    if (!drag) return;
    const { element, what, from, place } = drag;
    drag = null;
    if (!place) return;
    report(element, what, taken ? place : from, false);
    setTimeout(() => undraw(element), taken ? SHOW_MS : 0);
  };
  document.addEventListener("pointerup", () => drop(true));
  document.addEventListener("pointercancel", () => drop(false));

  // --- by keyboard
  const pressed = new WeakMap();
  const STEPS = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -12, PageUp: 12 };
  const key = (event) => {
    const element = event.target.closest?.(".plan-bar, .plan-flag");
    if (!element || event.ctrlKey || event.metaKey || event.altKey) return false;
    if (event.key === "Escape" && drag) {
      drop(false);
      return true;
    }
    if (event.key === "Delete" || event.key === "Backspace") {
      tell(
        element,
        "planremove",
        isBar(element)
          ? { zone: Number(element.parentElement.dataset.zone), bar: Number(element.dataset.bar) }
          : { flag: element.dataset.flag },
      );
      return true;
    }
    const step = STEPS[event.key];
    if (!step) return false;
    const what = event.shiftKey && isBar(element) ? "end" : "move";
    const last = pressed.get(element);
    if (last) clearTimeout(last.timer);
    if (last && last.what !== what) report(element, last.what, last.place, false);
    const place = moved(last ? last.place : read(element), what, step * SNAP_S, spanOf(element));
    draw(element, place);
    report(element, what, place, true);
    const timer = setTimeout(() => {
      pressed.delete(element);
      report(element, what, place, false);
      undraw(element);
    }, REST_MS);
    pressed.set(element, { place, what, timer });
    return true;
  };
  const undo = (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey) return false;
    const typing = event.target.closest?.("input, textarea, select");
    const name = event.key.toLowerCase();
    const id = name === "s" ? "plan-save" : typing ? "" : name === "z" ? (event.shiftKey ? "plan-redo" : "plan-undo") : name === "y" ? "plan-redo" : "";
    const button = id && document.getElementById(id);
    if (!button) return false;
    button.click();
    return true;
  };
  document.addEventListener("keydown", (event) => {
    if (key(event) || undo(event)) event.preventDefault();
  });

  document.addEventListener("focusin", (event) => {
    const element = event.target.closest?.(".plan-bar");
    if (element)
      tell(element, "planchoose", {
        zone: Number(element.parentElement.dataset.zone),
        bar: Number(element.dataset.bar),
      });
  });

  // --- what sticks below the head must know how high it is: its links may take a line of their own
  const measure = () => {
    const head = document.querySelector(".head");
    if (head) document.documentElement.style.setProperty("--plan-head", `${head.offsetHeight}px`);
  };
  document.addEventListener("DOMContentLoaded", () => new ResizeObserver(measure).observe(document.body));

  // --- a page left with steps that are not saved
  window.addEventListener("beforeunload", (event) => {
    if (document.querySelector('.plan-keep[data-unsaved="yes"]')) event.preventDefault();
  });
})();

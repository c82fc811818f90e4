// Handles over a workout's chart, one for each form that says where a part begins or is cut. A handle is dragged, or
// moved with the arrow keys, and writes into its form; a boundary is sent when it is let go, a cut by its button.

const clock = (seconds) => {
  const pieces = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60];
  const [hours, minutes, rest] = pieces.map((piece, place) => (place ? `${piece}`.padStart(2, "0") : `${piece}`));
  return pieces[0] ? `${hours}:${minutes}:${rest}` : `${pieces[1]}:${rest}`;
};

const secondsOf = (text) => {
  const pieces = text.split(":").map(Number);
  return pieces.length === 1 ? Math.round(pieces[0] * 60) : pieces.reduce((sum, piece) => sum * 60 + piece, 0);
};

const KEYS = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -6, PageUp: 6 };

for (const panel of document.querySelectorAll("[data-edit-parts]")) {
  const figure = panel.closest("section").querySelector("[data-workout-chart]");
  const place = figure?.querySelector("[data-chart-place]");
  let view;
  const edge = () => view.origin()[0] + view.padding().left; // where the drawing's time begins, in pixels

  const handles = (figure ? [...panel.querySelectorAll("form[data-handle]")] : []).map((form) => {
    const field = form.querySelector("input[name=minutes]");
    const least = Number(form.dataset.least) + 60;
    const most = Number(form.dataset.most) - 60;
    const element = Object.assign(document.createElement("div"), { className: `handle ${form.dataset.handle}`, tabIndex: 0 });
    const facts = { role: "slider", "aria-label": form.dataset.label, "aria-valuemin": least, "aria-valuemax": most };
    for (const [name, value] of Object.entries(facts)) element.setAttribute(name, value);
    const before = secondsOf(field.value);
    let at = before;

    const draw = () => {
      const x = view ? view.scale("x")(at / 60) : 0;
      element.hidden = !panel.open || !view || most < least || x < 0 || x > view.width();
      element.style.left = `${view ? edge() + x : 0}px`;
      element.dataset.at = clock(at);
      element.setAttribute("aria-valuenow", at);
      element.setAttribute("aria-valuetext", `${clock(at)} minutes`);
    };
    const move = (seconds, write = true) => {
      at = Math.round(Math.min(Math.max(seconds, least), most));
      if (write) field.value = clock(at);
      draw();
    };
    const send = () => form.dataset.handle === "boundary" && at !== before && form.requestSubmit();

    element.addEventListener("pointerdown", (event) => {
      element.setPointerCapture(event.pointerId);
      event.preventDefault();
      element.focus();
    });
    element.addEventListener("pointermove", (event) => {
      if (!element.hasPointerCapture(event.pointerId)) return;
      const x = event.clientX - place.getBoundingClientRect().left - edge();
      move(view.scale("x").invert(x) * 60);
    });
    element.addEventListener("pointerup", send);
    element.addEventListener("keydown", (event) => {
      if (event.key in KEYS) move(at + KEYS[event.key] * (event.shiftKey ? 60 : 10));
      else if (event.key === "Enter") send();
      else if (event.key === "Escape") move(before);
      else return;
      event.preventDefault();
    });
    field.addEventListener("input", () => Number.isFinite(secondsOf(field.value)) && move(secondsOf(field.value), false));
    place.append(element);
    return { element, draw };
  });

  const drawAll = () => handles.forEach(({ draw }) => draw());
  panel.addEventListener("toggle", drawAll);
  figure?.addEventListener("drawn", ({ detail }) => {
    view = detail;
    panel.querySelector(".for-script").hidden = false;
    place.append(...handles.map(({ element }) => element)); // drawing empties the place
    view.addSignalListener("zoom_minute", () => view.runAfter(drawAll));
    view.addResizeListener(() => view.runAfter(drawAll));
    drawAll();
  });
}

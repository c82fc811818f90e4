// Zooms a workout's chart: a part is chosen by its links, in the table of parts or by its name in the chart, and
// steps go closer, wider, earlier and later. Without this module the links lead to the parts' sections.

const NAME = "zoom_minute";
const STRIP = 24; // pixels of the parts' names on top of the chart

for (const figure of document.querySelectorAll("[data-workout-chart]")) {
  const section = figure.closest("section");
  const links = [...document.querySelectorAll("a[data-part]")];
  const rows = [...document.querySelectorAll("tr[data-row]")];
  let view, whole, parts, chosen = -1;

  const shown = () => view.signal(NAME) ?? whole;
  const tell = () => {
    section.querySelector("[data-shown]").textContent = `minutes ${shown().map((minute) => minute.toFixed(1)).join(" to ")}`;
  };
  const within = ([from, to]) => {
    const length = Math.min(Math.max(to - from, 0.5), whole[1]);
    const begins = Math.min(Math.max(from, 0), whole[1] - length);
    return [begins, begins + length];
  };

  function mark(place) {
    chosen = place;
    for (const link of links) link.setAttribute("aria-current", Number(link.dataset.part) === place);
    for (const row of rows) row.toggleAttribute("data-chosen", Number(row.dataset.row) === place);
    view.signal("chosen", place);
  }

  function show(domain) {
    const all = !domain || domain[1] - domain[0] > whole[1] - 0.01;
    view.signal(NAME, all ? null : within(domain)).runAsync();
  }

  function choose(place) {
    mark(place);
    show(place < 0 ? null : [parts[place].minute, parts[place].ends]);
  }

  const STEPS = {
    closer: ([from, to]) => [from + (to - from) / 4, to - (to - from) / 4],
    wider: ([from, to]) => [from - (to - from) / 2, to + (to - from) / 2],
    earlier: ([from, to]) => [from - (to - from) / 2, to - (to - from) / 2],
    later: ([from, to]) => [from + (to - from) / 2, to + (to - from) / 2],
  };

  figure.addEventListener("drawn", ({ detail }) => {
    const before = view && shown();
    view = detail;
    whole = view.scale("x").domain();
    parts = section.querySelectorAll("a[data-part]").length > 1 ? view.data("parts") : [];
    view.addEventListener("click", (event) => {
      const { left, top } = figure.querySelector("canvas").getBoundingClientRect();
      const { left: aside, top: above } = view.padding();
      const x = event.clientX - left - view.origin()[0] - aside;
      const y = event.clientY - top - view.origin()[1] - above;
      const minute = view.scale("x").invert(x);
      const place = parts.findIndex((part) => part.minute <= minute && minute < part.ends);
      if (y >= 0 && y < STRIP && place >= 0) choose(place);
    });
    view.addEventListener("dblclick", () => choose(-1));
    view.addSignalListener(NAME, tell);
    tell();
    section.querySelector(".steps").hidden = false;
    for (const link of links) link.setAttribute("role", "button");
    mark(chosen);
    if (before) show(before); // drawn again, in other inks
  });

  for (const link of links) {
    const press = (event) => {
      if (!view) return;
      event.preventDefault();
      choose(Number(link.dataset.part));
      if (!section.contains(link)) figure.scrollIntoView({ block: "nearest" });
    };
    link.addEventListener("click", press);
    link.addEventListener("keydown", (event) => event.key === " " && press(event));
  }
  for (const button of section.querySelectorAll("[data-step]"))
    button.addEventListener("click", () => show(STEPS[button.dataset.step](shown())));
}

// Draws the charts of a page. A chart is <figure data-chart="ID">, its spec in the JSON block of that id, or
// <figure data-chart-url="ADDRESS …">, its spec at the first of the addresses that answers. Its ink lies in the
// page's custom properties, so light, dark and forced colours need no other spec. Once drawn it says so by the
// event "drawn", whose detail is the chart's view.

import { STYLES } from "./ink.js";

const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

const inked = (marks) =>
  Object.fromEntries(Object.entries(marks).map(([key, value]) => [key, `${value}`.startsWith("--") ? ink(value) : value]));

function config() {
  const text = { labelColor: ink("--quiet"), titleColor: ink("--quiet"), labelFontSize: 12, titleFontSize: 12 };
  const font = getComputedStyle(document.body).fontFamily;
  return {
    aria: false, // words for every mark cost time and nobody hears them: the figure has its own
    background: "transparent",
    font,
    view: { stroke: null },
    axis: {
      ...text,
      titleFontWeight: "normal",
      gridColor: ink("--hairline"),
      domainColor: ink("--rule"),
      tickColor: ink("--rule"),
    },
    axisX: { grid: false },
    style: Object.fromEntries(Object.entries(STYLES).map(([name, marks]) => [name, inked(marks)])),
  };
}

const drawn = new Map();

async function specOf(figure) {
  if (figure.dataset.chart) return JSON.parse(document.getElementById(figure.dataset.chart).textContent);
  for (const address of figure.dataset.chartUrl.split(/\s+/).filter(Boolean)) {
    const answer = await fetch(address);
    if (answer.ok) return answer.json();
  }
  return null;
}
// A drawing can miss the last step of a window that narrows, and would hold the page wide: it is laid out anew.
const widths = new ResizeObserver((entries) => entries.forEach(({ target }) => setTimeout(() => {
  const canvas = target.querySelector("canvas");
  if (canvas && Math.abs(canvas.clientWidth - target.clientWidth) > 1) draw(target.closest("[data-chart], [data-chart-url]"));
}, 200)));

async function draw(figure) {
  drawn.get(figure)?.finalize();
  drawn.set(figure, null);
  const place = figure.querySelector("[data-chart-place]");
  const spec = await specOf(figure);
  if (!spec) {
    place.textContent = "The chart could not be fetched. Load the page again to try once more.";
    return;
  }
  const result = await window.vegaEmbed(place, spec, {
    actions: false,
    ast: true, // interprets expressions: no eval under the content security policy
    config: config(),
    defaultStyle: false,
    renderer: "canvas",
    tooltip: { disableDefaultStyle: true },
  });
  drawn.set(figure, result);
  widths.observe(place);
  figure.dataset.drawn = "yes";
  figure.dispatchEvent(new CustomEvent("drawn", { detail: result.view }));
}

const figures = () => [...document.querySelectorAll("[data-chart], [data-chart-url]")];
const drawNew = () => figures().filter((figure) => !drawn.has(figure)).forEach(draw);

drawNew();
document.addEventListener("htmx:load", drawNew);
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => figures().forEach(draw));

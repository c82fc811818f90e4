// Reasons open under the pointer as well as on a tap or key press, close on Escape, and folds that somebody
// opened stay open where a part of the page is renewed. Without this module a tap or key press still opens.

const PAUSE = 250; // milliseconds, so that a pointer on its way elsewhere opens nothing
let soon = 0;
const opened = new Map(); // whether each fold was open before a part of the page was renewed

document.addEventListener(
  "pointerenter",
  (event) => {
    if (event.pointerType !== "mouse" || !event.target.matches?.(".bases summary")) return;
    const fold = event.target.parentElement;
    if (fold.open) return;
    soon = setTimeout(() => {
      fold.open = true;
      fold.toggleAttribute("data-pointed", true);
    }, PAUSE);
  },
  true,
);

document.addEventListener(
  "pointerleave",
  (event) => {
    if (!event.target.matches?.(".bases, .bases summary")) return;
    clearTimeout(soon);
    const fold = event.target.closest(".bases");
    if (event.target === fold && fold.hasAttribute("data-pointed")) {
      fold.open = false;
      fold.toggleAttribute("data-pointed", false);
    }
  },
  true,
);

// A click on what the pointer had opened keeps it open.
document.addEventListener("click", (event) => {
  const fold = event.target.closest?.(".bases summary")?.parentElement;
  if (fold?.hasAttribute("data-pointed")) {
    fold.toggleAttribute("data-pointed", false);
    event.preventDefault();
  }
});

document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  for (const fold of document.querySelectorAll(".bases[open]")) fold.open = false;
});

function remember() {
  opened.clear();
  for (const fold of document.querySelectorAll("details[id]")) opened.set(fold.id, fold.open);
}

function restore() {
  for (const fold of document.querySelectorAll("details[id]")) {
    if (opened.has(fold.id)) fold.open = opened.get(fold.id);
  }
}

document.addEventListener("htmx:beforeSwap", remember);
document.addEventListener("htmx:afterSettle", restore);

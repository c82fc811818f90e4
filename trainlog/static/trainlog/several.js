// Choosing several workouts of the log: all of a week, all between two with Shift, and how many there are.
// Without this module each is ticked by itself.

const boxes = () => [...document.querySelectorAll("#weeks input.pick")];
let last = null;

function tell() {
  const all = boxes();
  const chosen = all.filter((box) => box.checked).length;
  const bar = document.querySelector("[data-chosen]");
  if (!bar) return;
  bar.hidden = !chosen;
  bar.querySelector("output").value = `${chosen} chosen`;
  for (const week of document.querySelectorAll("#weeks section.week")) {
    const inside = [...week.querySelectorAll("input.pick")];
    const ticked = inside.filter((box) => box.checked).length;
    const box = week.querySelector("[data-week]");
    if (!box) continue;
    box.checked = ticked === inside.length;
    box.indeterminate = ticked > 0 && ticked < inside.length;
  }
}

function show() {
  for (const scripted of document.querySelectorAll("[data-scripted]")) scripted.hidden = false;
  tell();
}

document.addEventListener("click", (event) => {
  const box = event.target.closest?.("#weeks input.pick");
  if (!box) return;
  const all = boxes();
  const from = all.indexOf(last);
  if (event.shiftKey && from >= 0) {
    const to = all.indexOf(box);
    for (const between of all.slice(Math.min(from, to), Math.max(from, to) + 1)) between.checked = box.checked;
  }
  last = box;
  tell();
});

document.addEventListener("change", (event) => {
  if (!event.target.matches?.("[data-week]")) return;
  for (const box of event.target.closest("section.week").querySelectorAll("input.pick")) {
    box.checked = event.target.checked;
  }
  tell();
});

document.addEventListener("htmx:afterSettle", show);
show();

// Lets files be dropped on the form that adds them, and sends them as soon as they are chosen. Without this
// module the form still works: choose files, then press its button.

for (const form of document.querySelectorAll("form[data-drop]")) {
  const input = form.querySelector("input[type=file]");
  form.querySelector("button").hidden = true;
  let depth = 0; // dragenter and dragleave also fire for everything inside the form
  const lit = (change) => {
    depth = Math.max(0, depth + change);
    form.toggleAttribute("data-over", depth > 0);
  };
  const most = Number(form.dataset.most);
  const say = (text) => {
    const line = document.createElement("p");
    line.className = "error";
    line.textContent = text;
    document.getElementById("said").replaceChildren(line);
  };
  const send = () => {
    if (input.files.length > most) {
      say(`These are ${input.files.length} files. Add at most ${most} at a time, or pack them into one zip.`);
      form.reset();
    } else if (input.files.length) {
      form.requestSubmit();
    }
  };

  form.addEventListener("dragenter", (event) => {
    event.preventDefault();
    lit(1);
  });
  form.addEventListener("dragleave", () => lit(-1));
  form.addEventListener("dragover", (event) => event.preventDefault());
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    lit(-depth);
    input.files = event.dataTransfer.files;
    send();
  });
  input.addEventListener("change", send);
  form.addEventListener("htmx:beforeRequest", () => form.toggleAttribute("data-sending", true));
  form.addEventListener("htmx:responseError", (event) =>
    say(`The files were not taken: the server answered ${event.detail.xhr.status}. Add fewer at a time.`),
  );
  form.addEventListener("htmx:sendError", () =>
    say("The files were not sent: the server does not answer. They are still where they were; try again."),
  );
  form.addEventListener("htmx:afterRequest", () => {
    form.toggleAttribute("data-sending", false);
    form.reset();
  });
}

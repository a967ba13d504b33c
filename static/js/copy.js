// Says how far a file is that is being saved. The browser saves it by itself, under its name only
// when it is whole; without this script it only says less.
(function () {
  "use strict";
  var box = document.querySelector("[data-far]");
  if (!box || !window.fetch) { return; }
  var address = box.getAttribute("data-far"), told = box.querySelector("[data-far-told]"),
    bar = box.querySelector("[data-far-bar]"), over = document.querySelector("[data-far-over]"),
    next = 0, missed = 0, ended = 0;

  function stop(text) {
    box.hidden = true;
    over.textContent = text;
  }

  async function look() {
    next = 0;
    try {
      var answer = await fetch(address, { credentials: "same-origin", headers: { Accept: "application/json" } });
      if (!answer.ok) { stop("You may have been signed out. Look whether your browser has the whole file."); return; }
      var said = await answer.json();
      missed = 0;
      if (said.over && said.run !== ended) { ended = said.run; stop(said.told); return; }
      if (said.over) { said = { told: "The server begins.", done: 0, of: 1 }; } // that was the file before
      told.textContent = said.told;
      bar.max = said.of || 1;
      bar.value = said.done;
    } catch (gone) {
      if (++missed > 5) { stop("The server does not answer. Look whether your browser has the whole file, or save it again."); return; }
    }
    next = setTimeout(look, 700);
  }

  document.addEventListener("click", function (e) {
    if (e.defaultPrevented || !e.target.closest("a[download]")) { return; }
    over.textContent = "";
    told.textContent = "The server begins.";
    bar.value = 0;
    box.hidden = false;
    if (next) { clearTimeout(next); }
    next = setTimeout(look, 400);
  });
})();

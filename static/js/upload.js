// Uploads a test recording in pieces. A dropped connection goes on where the server says; without
// this script the form sends the whole file at once.
(function () {
  "use strict";
  var form = document.querySelector("form[data-upload]");
  if (!form || !window.fetch || !window.FormData || !Blob.prototype.slice) { return; }
  var base = form.getAttribute("data-upload"), words = form.querySelector("[data-upload-words]"),
    bar = form.querySelector("[data-upload-bar]"), piece = 256 * 1024, running = false;

  function say(text) { words.textContent = text; }
  function token() { return form.querySelector("input[name=token]").value; }
  function wait(ms) { return new Promise(function (go) { setTimeout(go, ms); }); }
  function field(name) {
    var el = form.querySelector("[name=" + name + "]:checked") || form.querySelector("input[name=" + name + "]:not([type=radio])");
    return el ? el.value : "";
  }

  // ask sends one request; a connection that drops is tried again, what the server refuses is not.
  async function ask(address, fields, tries) {
    for (var n = 0; ; n++) {
      try {
        var data = null, answer;
        if (fields) {
          data = new FormData();
          data.append("token", token());
          Object.keys(fields).forEach(function (k) { data.append(k, fields[k]); });
        }
        answer = await fetch(address, { method: data ? "POST" : "GET", body: data,
          credentials: "same-origin", headers: { Accept: "application/json" } });
        if (answer.status < 500 && !/json/.test(answer.headers.get("Content-Type") || "")) {
          throw { text: "You may have been signed out. Open the page again and choose the file once more." };
        }
        var said = await answer.json();
        if (answer.ok) { return said; }
        if (answer.status < 500) { throw said; }
        throw new TypeError(said.text);
      } catch (e) {
        if (!(e instanceof TypeError) && !(e instanceof SyntaxError)) { throw e; }
        if (n >= tries) { throw { text: "The server does not answer. What is there stays there for a day: send again to go on." }; }
        say("The connection dropped. Trying again…");
        await wait(Math.min(1000 * Math.pow(2, n), 15000));
      }
    }
  }

  async function sum(file) {
    if (!window.crypto || !crypto.subtle) { return ""; }
    var hash = await crypto.subtle.digest("SHA-256", await file.arrayBuffer());
    return Array.from(new Uint8Array(hash)).map(function (b) { return b.toString(16).padStart(2, "0"); }).join("");
  }

  // The note of an upload that was cut off: never the file's name.
  function note(value) {
    try {
      if (value === undefined) { return JSON.parse(localStorage.getItem("upload " + base)); }
      if (value) { localStorage.setItem("upload " + base, JSON.stringify(value)); } else { localStorage.removeItem("upload " + base); }
    } catch (none) { /* it then begins anew */ }
    return null;
  }

  async function begin(file, sha) {
    var old = note();
    if (old && old.size === file.size && old.sha === sha && old.changed === file.lastModified) {
      try {
        var there = await ask(base + "/draft/" + old.id, null, 4);
        there.id = old.id;
        return there;
      } catch (gone) { note(null); }
    }
    var made = await ask(base + "/draft", { size: file.size, sha256: sha }, 4);
    note({ id: made.id, size: file.size, sha: sha, changed: file.lastModified });
    return made;
  }

  async function upload(file) {
    say("Reading the file…");
    bar.value = 0;
    var sha = await sum(file), state = await begin(file, sha), id = state.id;
    bar.hidden = false;
    while (!state.whole) {
      bar.value = state.have / file.size;
      say(Math.round(100 * state.have / file.size) + " % uploaded");
      state = await ask(base + "/draft/" + id,
        { at: state.have, piece: file.slice(state.have, state.have + piece) }, 8);
    }
    bar.value = 1;
    note(null);
    return id;
  }

  // A recording in two files (header and signal) is two uploads, judged together.
  async function uploadAll(files) {
    if (files.length > 2) {
      throw { text: "More than two files were chosen.", fix: "Choose one recording, or the two files of one record (.hea and .dat)." };
    }
    var q = new URLSearchParams({ draft: await upload(files[0]) });
    if (files.length > 1) { q.set("pair", await upload(files[1])); }
    say("All of it is there. It is being judged…");
    ["source", "rate", "lead", "csv_rate", "unit"].forEach(function (n) {
      var value = field(n);
      if (value) { q.set(n, value); }
    });
    location.assign(base + "?" + q);
  }

  form.addEventListener("submit", function (e) {
    var files = form.querySelector("input[type=file]").files;
    if (!files.length) { return; }
    e.preventDefault();
    if (running) { return; }
    running = true;
    uploadAll(files).catch(function (p) {
      bar.hidden = true;
      if (p && p.gone) { note(null); }
      say(((p && p.text) || "The file could not be uploaded.") + " " + ((p && p.fix) || ""));
    }).then(function () { running = false; });
  });
})();

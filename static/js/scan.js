// The camera in the page. It only reads: what it sees fills a field or looks a label up, it never
// records anything by itself. Typed letters, a reader that types, and the phone's own camera do
// the same without it.
(function () {
  "use strict";
  var own = document.currentScript.dataset, fields = document.querySelectorAll("input[data-scan]");
  if (!fields.length || !window.WebAssembly) { return; }
  var live = window.isSecureContext && navigator.mediaDevices && navigator.mediaDevices.getUserMedia;
  var seenInARow = 3, slowAfterMS = 8000, againKey = "scan-again", lastKey = "scan-last";
  var options = { formats: ["QRCodeModel2"], tryHarder: true, maxNumberOfSymbols: 4 };
  var ready; // the decoder, loaded at the first tap

  function decoder() {
    ready = ready || new Promise(function (done, fail) {
      var s = document.createElement("script");
      s.src = own.reader;
      s.onload = function () {
        window.ZXingWASM.prepareZXingModule({
          overrides: { locateFile: function () { return own.wasm; } }, fireImmediately: true
        }).then(function () { done(window.ZXingWASM); }, fail);
      };
      s.onerror = fail;
      document.head.appendChild(s);
    });
    ready.catch(function () { ready = null; }); // the next tap tries again
    return ready;
  }

  // codeIn gives the letters of a label of ours, or nothing: host, path and length must fit. The
  // server checks the check letter. No address that was seen is ever opened.
  function codeIn(text) {
    var at;
    try { at = new URL(text); } catch (e) { return ""; }
    var hosts = [location.host, own.host].map(function (h) { return h.toLowerCase(); });
    var m = /^\/D\/([0-9A-Z]{17})$/i.exec(at.pathname);
    return m && /^https?:$/.test(at.protocol) && hosts.indexOf(at.host.toLowerCase()) >= 0 ? m[1].toUpperCase() : "";
  }

  // judge answers {code} or {say}: exactly one label, and one of ours.
  function judge(results) {
    var texts = [];
    results.forEach(function (r) {
      if (r.isValid && texts.indexOf(r.text) < 0) { texts.push(r.text); }
    });
    if (!texts.length) { return {}; }
    if (texts.length > 1) { return { say: "More than one label is in view. Show one alone." }; }
    var code = codeIn(texts[0]);
    return code ? { code: code } : { say: "That is not one of our labels." };
  }

  function tag(name, text, kind) {
    var el = document.createElement(name);
    if (text) { el.textContent = text; }
    if (kind) { el.className = kind; }
    return el;
  }
  function kept(key, value) {
    try {
      if (value === undefined) { return sessionStorage.getItem(key); }
      sessionStorage.setItem(key, value);
    } catch (e) { return null; }
  }

  function scanner(field) {
    var mode = field.dataset.scan, box = tag("div", "", "scan"), said = tag("p"), video, stream, light,
      start = tag("button", "Scan with the camera", "edged"), end = tag("button", "Close the camera", "plain");
    said.setAttribute("role", "status");
    start.type = end.type = "button";
    end.hidden = true;

    function say(text) { if (said.textContent !== text) { said.textContent = text; } }

    function take(code) {
      stop();
      field.value = code;
      kept(lastKey, code);
      if (navigator.vibrate && navigator.userActivation && navigator.userActivation.hasBeenActive) { navigator.vibrate(60); }
      say("Read: " + code.replace(/(.{4})(?=.)/g, "$1 "));
      if (mode === "again") { kept(againKey, "1"); }
      if (mode === "fill") { field.focus(); return; }
      field.form.requestSubmit();
    }

    function stop() {
      if (stream) { stream.getTracks().forEach(function (t) { t.stop(); }); }
      stream = null;
      box.removeAttribute("data-live");
      if (video) { video.remove(); video = null; }
      if (light) { light.remove(); light = null; }
      start.hidden = false;
      end.hidden = true;
    }

    function refused(e) {
      stop();
      kept(againKey, "");
      var words = {
        NotAllowedError: "The camera is not allowed for this page. Allow it in the browser’s settings, or type the letters.",
        NotFoundError: "This device has no camera. Type the letters.",
        NotReadableError: "The camera is in use by something else. Close that, or type the letters."
      };
      say(words[e && e.name] || "The camera cannot be used here. Type the letters.");
    }

    // look decodes one picture after the other; the same label three times in a row counts.
    async function look(zxing) {
      var canvas = document.createElement("canvas"), pen = canvas.getContext("2d", { willReadFrequently: true });
      var row = 0, last = "", since = Date.now(), again = mode === "again" ? kept(lastKey) : "";
      while (stream) {
        await new Promise(function (go) { setTimeout(go, 30); });
        if (!stream || video.readyState < 2) { continue; }
        var w = video.videoWidth, h = video.videoHeight, side = Math.min(w, h); // what the square shows
        canvas.width = canvas.height = side;
        pen.drawImage(video, (w - side) / 2, (h - side) / 2, side, side, 0, 0, side, side);
        var it = judge(await zxing.readBarcodes(pen.getImageData(0, 0, side, side), options));
        if (!stream) { return; }
        if (it.code && it.code === again) { say("This one was answered. Show the next label."); continue; }
        row = it.code && it.code === last ? row + 1 : it.code ? 1 : 0;
        last = it.code || "";
        if (row >= seenInARow) { take(it.code); return; }
        if (it.say) { say(it.say); since = Date.now(); }
        else if (!it.code && Date.now() - since > slowAfterMS) {
          say("Nothing read yet. Hold it about 15 cm away, in better light, or type the letters.");
        }
      }
    }

    function offerLight() {
      var track = stream.getVideoTracks()[0], can = track.getCapabilities ? track.getCapabilities() : {};
      if (!can.torch) { return; }
      var on = false;
      light = tag("button", "Light on", "plain");
      light.type = "button";
      light.addEventListener("click", function () {
        on = !on;
        track.applyConstraints({ advanced: [{ torch: on }] });
        light.textContent = on ? "Light off" : "Light on";
      });
      box.appendChild(light);
    }

    async function open() {
      start.hidden = true;
      end.hidden = false;
      say("Opening the camera…");
      try {
        stream = await navigator.mediaDevices.getUserMedia({ audio: false,
          video: { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, height: { ideal: 720 } } });
        video = tag("video");
        video.muted = true;
        video.setAttribute("playsinline", "");
        video.setAttribute("aria-label", "What the camera sees");
        video.srcObject = stream;
        box.insertBefore(video, said);
        await video.play();
        box.setAttribute("data-live", "");
        say("One label inside this square.");
        offerLight();
      } catch (e) { refused(e); return; }
      try { await look(await decoder()); } catch (e) {
        stop();
        say("The reader of labels could not be loaded. Type the letters, or try again.");
      }
    }

    async function photo(e) {
      var file = e.target.files[0];
      if (!file) { return; }
      say("Reading the picture…");
      try {
        var zxing = await decoder(), it = judge(await zxing.readBarcodes(file, options));
        if (it.code) { take(it.code); return; }
        say(it.say || "No label can be read in this picture. Take it closer, or type the letters.");
      } catch (x) { say("This picture cannot be read. Type the letters."); }
      e.target.value = "";
    }

    if (live) {
      start.addEventListener("click", function () { kept(lastKey, ""); open(); }); // the same label, on purpose
      field.form.addEventListener("next", function () { if (kept(againKey) === "1") { kept(againKey, ""); open(); } });
      end.addEventListener("click", function () { kept(againKey, ""); stop(); say(""); });
      box.append(start, said, end);
    } else { // without TLS there is no live camera, but a picture can be taken
      var label = tag("label", "Take a picture of the label", "edged"), input = tag("input", "", "hidden");
      input.type = "file";
      input.accept = "image/*";
      input.setAttribute("capture", "environment");
      input.addEventListener("change", photo);
      label.appendChild(input);
      box.append(label, said);
    }
    field.closest(".field").append(box);
    document.addEventListener("visibilitychange", function () { if (document.hidden) { stop(); say(""); } });
    window.addEventListener("pagehide", stop);
    if (live && mode === "again" && kept(againKey) === "1") { kept(againKey, ""); open(); }
    if (mode !== "again") { kept(againKey, ""); }
  }

  fields.forEach(scanner);
})();

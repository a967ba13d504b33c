// The wet rows. The server's two timestamps are the truth; this only shows them. It survives
// a reload, a locked screen and another phone, because it computes from the start each time.
(function () {
  "use strict";
  var timers = Array.prototype.slice.call(document.querySelectorAll("[data-wet-start]"));
  if (!timers.length) { return; }
  var body = document.body;
  var loaded = performance.now();
  var served = Number(body.getAttribute("data-now")); // ms, by the server, when it answered
  var title = document.title;
  var sounding = null, tapped = false, said = {};

  // now is the server's time: its stamp plus what has passed here. A clock that was set on
  // this phone changes nothing; performance.now() may stand still while a phone sleeps, so
  // waking up asks the server again.
  function now() { return served + (performance.now() - loaded); }

  function two(n) { return (n < 10 ? "0" : "") + n; }
  function figures(s) { return Math.floor(s / 60) + ":" + two(s % 60); }

  function show(t) {
    var start = Number(t.getAttribute("data-wet-start"));
    var need = Number(t.getAttribute("data-wet-need"));
    var past = Math.max(0, (now() - start) / 1000);
    var left = Math.max(0, Math.ceil(need - past));
    var out = t.querySelector("[data-wet-left]");
    if (out) { out.textContent = figures(left); }
    var blocks = t.querySelectorAll("[data-wet-running] b");
    var filled = need > 0 ? Math.min(blocks.length, Math.floor(blocks.length * past / need)) : 0;
    blocks.forEach(function (b, i) { b.className = i < filled ? "past" : ""; });
    if (need > 0 && left === 0) { end(t); }
    return left;
  }

  function end(t) {
    var id = t.getAttribute("data-wet-start") + "/" + t.getAttribute("data-wet-name");
    if (said[id]) { return; }
    said[id] = true;
    var done = t.querySelector("[data-wet-done]");
    var running = t.querySelector("[data-wet-left]");
    if (done) { done.hidden = false; done.setAttribute("role", "status"); done.textContent = done.textContent; }
    if (running && done) { running.hidden = true; }
    document.title = "Long enough: " + (t.getAttribute("data-wet-name") || title);
    shake();
    sound();
  }

  // A phone shakes only after somebody has tapped the page.
  function shake() {
    if (navigator.vibrate && navigator.userActivation && navigator.userActivation.hasBeenActive) {
      navigator.vibrate(900);
    }
  }

  // One low note, then silence, until somebody taps: 330 Hz, 0.9 s, 4 s between.
  function note(context) {
    var o = context.createOscillator(), g = context.createGain(), t = context.currentTime;
    o.frequency.value = 330;
    g.gain.setValueAtTime(0, t);
    g.gain.linearRampToValueAtTime(0.6, t + 0.02);
    g.gain.setValueAtTime(0.6, t + 0.85);
    g.gain.linearRampToValueAtTime(0, t + 0.9);
    o.connect(g); g.connect(context.destination);
    o.start(t); o.stop(t + 0.9);
  }
  function sound() {
    var Context = window.AudioContext || window.webkitAudioContext;
    if (!Context || sounding || tapped) { return; }
    try {
      var context = new Context();
      note(context);
      sounding = setInterval(function () {
        note(context);
        shake();
      }, 4900);
    } catch (refused) { sounding = null; }
  }
  function hush() {
    tapped = sounding !== null;
    clearInterval(sounding);
    sounding = null;
  }
  ["pointerdown", "keydown"].forEach(function (kind) { document.addEventListener(kind, hush); });

  // When to wipe again is said no longer once all are wet long enough.
  function all() {
    var left = Math.max.apply(null, timers.map(show));
    var wipe = document.querySelector("[data-wet-wipe]");
    if (wipe && left === 0) { wipe.hidden = true; }
  }
  all();
  setInterval(all, 250);
  document.addEventListener("visibilitychange", function () {
    var dirty = Array.prototype.some.call(document.querySelectorAll("input[type=text], textarea"),
      function (f) { return f.value !== f.defaultValue; });
    if (document.visibilityState === "visible" && !dirty && navigator.onLine) { location.reload(); }
    all();
  });
  window.addEventListener("offline", function () { mark(true); });
  window.addEventListener("online", function () { mark(false); });
  function mark(off) {
    timers.forEach(function (t) {
      var out = t.querySelector("[data-wet-left]"), own = t.querySelector("[data-wet-own]");
      if (out) { out.classList.toggle("unsaved", off); }
      if (own) { own.hidden = !off; }
    });
  }
})();

// Small comforts; every form works without them.
// One tap is one post: a form that was sent waits, and is freed when the page comes back.
(function () {
  "use strict";
  function free() {
    document.querySelectorAll("form[data-sent]").forEach(function (f) {
      f.removeAttribute("data-sent");
      f.querySelectorAll("[aria-disabled]").forEach(function (b) { b.removeAttribute("aria-disabled"); });
    });
  }
  document.addEventListener("submit", function (e) {
    var f = e.target;
    if (e.defaultPrevented) { return; }
    if (f.hasAttribute("data-sent")) { e.preventDefault(); return; }
    if (f.method === "post") {
      f.setAttribute("data-sent", "");
      f.querySelectorAll("button").forEach(function (b) { b.setAttribute("aria-disabled", "true"); });
    }
  });
  // A page from the back-forward cache shows yesterday's truth: ask the server again.
  window.addEventListener("pageshow", function (e) {
    free();
    if (e.persisted) { location.reload(); }
  });
  // The phone's own clock goes along as a remark; the server's time counts.
  document.addEventListener("submit", function (e) {
    var at = e.target.querySelector("input[name=phone_at]");
    if (at) { at.value = new Date().toISOString(); }
  }, true);
  var alert = document.querySelector("[data-focus]");
  if (alert) { alert.focus(); }
})();

// A slow double tap must not land on the next page's main act, which stands at the same place:
// after a page was left by a finger or a mouse, that act is deaf for a moment. The keyboard and
// programs that read the page aloud are heard at once. data-guard says that it still is so.
(function () {
  "use strict";
  var root = document.documentElement, deafMs = 400, tapped = 0, swallow = false;
  function pointed(e) { return e.detail > 0; } // 0: pressed by a key or by a program
  function kept(change) { try { return change(sessionStorage); } catch (none) { return null; } }
  if (kept(function (s) { var was = s.getItem("tapped"); s.removeItem("tapped"); return was; })) {
    root.setAttribute("data-guard", "");
    var end = function () { root.removeAttribute("data-guard"); };
    var begin = function () { setTimeout(end, deafMs); };
    if (document.hidden) { begin(); } else { requestAnimationFrame(begin); }
  }
  function deaf(e) {
    return e.target.closest && e.target.closest(".act") && root.hasAttribute("data-guard");
  }
  // A finger that went down too early counts as too early, however late it comes up.
  window.addEventListener("pointerdown", function (e) { swallow = !!deaf(e); }, true);
  window.addEventListener("click", function (e) {
    if (!pointed(e)) { return; }
    if (swallow || deaf(e)) {
      swallow = false;
      e.preventDefault();
      e.stopImmediatePropagation();
      return;
    }
    tapped = Date.now();
  }, true);
  window.addEventListener("pagehide", function () {
    if (tapped && Date.now() - tapped < 30000) { kept(function (s) { s.setItem("tapped", "1"); }); }
  });
})();

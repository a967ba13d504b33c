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

// The outbox: a tap that did not reach the server stays visible as "not yet saved" and is sent
// again with the same key, so it counts once. Only forms marked data-outbox take part; forms
// with a secret never do. What one person tapped is never sent under another's name.
(function () {
  "use strict";
  var body = document.body, me = body.getAttribute("data-person") || "";
  var box = document.getElementById("outbox"), name = "outbox";
  if (!box || !window.fetch || !window.localStorage) { return; }

  function load() {
    try { return JSON.parse(localStorage.getItem(name)) || []; } catch (broken) { return []; }
  }
  function store(list) {
    try { localStorage.setItem(name, JSON.stringify(list)); return true; } catch (full) { return false; }
  }
  function token() {
    var t = document.querySelector("input[name=token]");
    return t ? t.value : body.getAttribute("data-token") || "";
  }
  function line(tag, text) {
    var p = document.createElement(tag);
    p.textContent = text;
    return p;
  }

  // signIn says that the server answers, but to nobody: whoever tapped was idle too long.
  function signIn() {
    var p = line("p", "You were signed out meanwhile. "), a = line("a", "Sign in again");
    a.href = "/sign-in";
    p.appendChild(a);
    p.appendChild(document.createTextNode(", then it is sent."));
    draw();
    box.appendChild(p);
  }

  // draw shows what is waiting. An act whose truth does not keep (a look at a wet surface) is
  // not sent late: the person is told to look again.
  function draw() {
    var list = load();
    box.textContent = "";
    list.forEach(function (item) {
      var late = item.until && Date.now() > item.until;
      var mine = item.person === me;
      box.appendChild(line("p", (item.said ? "Not taken: " : "Not yet saved: ") + item.words + ", " + item.at + "."));
      if (item.said) {
        box.appendChild(line("p", item.said));
        box.appendChild(drop(item));
      } else if (late) {
        box.appendChild(line("p", "Too long ago to be sent now. Look again, and tap again."));
        box.appendChild(drop(item));
      } else if (!mine) {
        box.appendChild(line("p", "It is sent when " + (item.who || "the same person") + " signs in here."));
        box.appendChild(drop(item));
      } else {
        box.appendChild(line("p", "It is sent again by itself as soon as the server answers."));
      }
    });
  }
  function drop(item) {
    var b = line("button", item.said ? "Seen" : "Forget it");
    b.type = "button";
    b.className = "edged";
    b.addEventListener("click", function () { remove(item.key); draw(); });
    return b;
  }
  function remove(key) {
    store(load().filter(function (i) { return i.key !== key; }));
  }

  // post sends one act. A redirect means that it stands; anything else the server said is
  // shown by posting natively: the key makes the second answer the same as the first.
  function post(item) {
    var data = new URLSearchParams(item.data);
    data.set("token", token());
    return fetch(item.to, { method: "POST", body: data, credentials: "same-origin", redirect: "follow",
      headers: { "Content-Type": "application/x-www-form-urlencoded" } });
  }

  // reason is why the server did not take it, in the words of its page.
  function reason(text) {
    var page = new DOMParser().parseFromString(text, "text/html"), all = [];
    page.querySelectorAll(".notice p, .why, .state.unsure + .under p").forEach(function (p) { all.push(p.textContent.trim()); });
    return all.join(" ") || "Open the page again to see why.";
  }

  // next frees a form that takes one label after the other: what was just tapped waits, and the
  // next label is another act with a key of its own.
  var made = 0;
  function next(form) {
    var key = form.querySelector("input[name=key]"), field = form.querySelector("input[data-scan]");
    made++;
    key.value = key.value.split("-")[0] + "-" + Date.now().toString(36) + "-" + made;
    if (field) { field.value = ""; field.focus(); }
    form.dispatchEvent(new Event("next"));
  }

  function fieldsOf(form, button) {
    var data = new URLSearchParams(new FormData(form));
    if (button && button.name) { data.set(button.name, button.value); }
    data.delete("token");
    return data.toString();
  }

  document.addEventListener("submit", function (e) {
    var f = e.target;
    if (e.defaultPrevented || !f.hasAttribute("data-outbox") || f.querySelector("input[type=password]") ||
        f.querySelector("input[type=file]") || f.hasAttribute("data-native")) { return; }
    e.preventDefault();
    if (f.hasAttribute("data-sent")) { return; }
    f.setAttribute("data-sent", "");
    var seconds = Number(f.getAttribute("data-outbox-seconds")), row = f.hasAttribute("data-row");
    var item = { key: f.querySelector("input[name=key]").value, to: f.getAttribute("action") || location.pathname,
      data: fieldsOf(f, e.submitter), words: f.getAttribute("data-outbox") + (row ? ": " + f.querySelector("input[data-scan]").value : ""), person: me,
      who: body.getAttribute("data-name") || "", at: new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false }),
      until: seconds ? Date.now() + seconds * 1000 : 0 };
    remove(item.key); // the same form tapped again is the same act
    if (!store(load().concat(item))) { native(f, e.submitter); return; }
    post(item).then(function (r) {
      if (r.status >= 500) { throw new Error("no answer to rely on"); }
      remove(item.key);
      if (r.redirected && r.ok) { location.assign(r.url); } else { native(f, e.submitter); }
    }).catch(function () {
      f.removeAttribute("data-sent");
      if (row) { next(f); }
      draw();
    });
  }, true); // before page.js, which then leaves the form alone
  function native(f, button) {
    f.setAttribute("data-native", "");
    f.removeAttribute("data-sent");
    f.requestSubmit(button || undefined);
  }

  // again sends what waits, one after the other, oldest first.
  var busy = false;
  function again() {
    var item = load().filter(function (i) {
      return i.person === me && me && !i.said && !(i.until && Date.now() > i.until);
    })[0];
    if (busy || !item || navigator.onLine === false) { draw(); return; }
    busy = true;
    post(item).then(function (r) {
      busy = false;
      if (r.status === 401) { signIn(); return; }
      if (r.status >= 500) { return; } // it waits for the server
      if (r.redirected && r.ok && new URL(r.url).pathname !== "/sign-in") {
        remove(item.key);
        location.reload();
        return;
      }
      return r.text().then(function (text) {
        item.said = reason(text);
        store(load().map(function (i) { return i.key === item.key ? item : i; }));
        again();
      });
    }).catch(function () { busy = false; });
  }
  draw();
  again();
  window.addEventListener("online", again);
  setInterval(again, 10000);
})();

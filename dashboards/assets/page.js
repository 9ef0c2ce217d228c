/* Light and dark, the width drawings are made for, and the watch over how old what is shown has become. */
(function () {
  "use strict";
  const root = document.documentElement;
  try {
    const kept = window.localStorage.getItem("evenmelt-look");
    if (kept) root.dataset.theme = kept;
  } catch (error) { /* storage can be switched off; then the system's wish holds */ }

  function look() {
    if (root.dataset.theme) return root.dataset.theme;
    return window.matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
  }

  function width() {
    const main = document.getElementById("page");
    const style = main && window.getComputedStyle(main);
    const room = main ? main.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) : 1384;
    return Math.max(330, Math.min(1720, Math.floor(room / 4) * 4));
  }

  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.evenmelt = {
    look: function (clicks) {
      if (clicks) {
        root.dataset.theme = look() === "dark" ? "light" : "dark";
        try { window.localStorage.setItem("evenmelt-look", root.dataset.theme); } catch (error) { /* as above */ }
      }
      return look();
    },
    width: function () { return width(); },
    units: function () {
      const first = { temperature: "C", pressure: "bar", mass: "kg", mark: "point", hours: "24", date: "day" };
      const kept = (document.cookie.match(/(?:^|; )evenmelt-units=([^;]*)/) || ["", ""])[1].split(".");
      const all = { temperature: ["C", "F"], pressure: ["bar", "psi"], mass: ["kg", "lb"], mark: ["point", "comma"],
        hours: ["24", "12"], date: ["day", "month"] };
      return Object.keys(all).map(function (name) {
        return kept.find(function (word) { return all[name].includes(word); }) || first[name];
      });
    },
    units_chosen: function () {
      const words = Array.prototype.slice.call(arguments, 0, 6);
      const before = window.dash_clientside.evenmelt.units().join(".");
      const now = words.join(".");
      if (words.includes(null) || words.includes(undefined) || now === before) return window.dash_clientside.no_update;
      document.cookie = "evenmelt-units=" + now + "; path=/; max-age=31536000; SameSite=Lax";
      window.location.reload();
      return now;
    },
    title: function (text) { document.title = text || "Evenmelt"; return ""; },
  };

  let waiting = null;
  window.addEventListener("resize", function () {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(function () {
      if (window.dash_clientside.set_props) window.dash_clientside.set_props("width", { data: width() });
    }, 250);
  });

  /* In the words of the server's own dashboards/clock.py, `duration`. */
  function span(ms) {
    const s = Math.max(0, Math.round(ms / 1000));
    if (s < 60) return s + " s";
    const minutes = Math.round(s / 60);
    if (minutes < 60) return minutes + " min";
    const hours = Math.floor(minutes / 60);
    if (hours < 24) return hours + " h" + (minutes % 60 ? " " + minutes % 60 + " min" : "");
    return Math.floor(hours / 24) + " d" + (hours % 24 ? " " + hours % 24 + " h" : "");
  }

  /* What is wider than the screen begins at the part that the address chooses, else at feeders and drive, unless the
     part that the page's word is about would then be out of sight. */
  function begin() {
    document.querySelectorAll(".wide").forEach(function (el) {
      const holder = el.querySelector(".drawing-holder.strip");
      if (!holder || el.dataset.begun || !holder.querySelector("svg") || el.scrollWidth <= el.clientWidth + 1) return;
      el.dataset.begun = "yes";
      const chosen = /[?&](channel|item)=/.test(window.location.search);
      const worst = holder.querySelector("svg").dataset.worst;
      const part = chosen ? holder.querySelector(".touch.on")
        : worst && holder.querySelector('[data-key="' + CSS.escape(worst) + '"]');
      // Where the keyboard has come to a part of it already, that one stays in sight.
      if (!part || el.contains(document.activeElement)) return;
      const room = el.getBoundingClientRect(), box = part.getBoundingClientRect();
      if (!chosen && box.left >= room.left && box.right <= room.right) return;
      const left = (box.left + box.right) / 2 - room.left - room.width / 2;
      el.scrollLeft += left;
    });
  }

  /* While the server does not answer, nothing that a button would have it write down is kept: they then say that they
     cannot be used. They stay where the keyboard finds them, and what is typed beside them stays too. */
  const WRITES = ".live .act button, .live ul.aside button";
  function writable(silent) {
    document.querySelectorAll(WRITES).forEach(function (el) {
      if (silent) el.setAttribute("aria-disabled", "true"); else el.removeAttribute("aria-disabled");
    });
  }
  document.addEventListener("click", function (event) {
    const el = event.target.closest && event.target.closest(WRITES);
    if (el && root.classList.contains("unanswered")) { event.stopPropagation(); event.preventDefault(); }
  }, true);

  /* What can be scrolled sideways must be reachable without a mouse; where it holds a link or a button, it is already. */
  function reachable() {
    document.querySelectorAll(".wide, .table, .line-block .what").forEach(function (el) {
      const scrolls = el.scrollWidth > el.clientWidth + 1;
      const held = el.querySelector("a[href], button, input, [tabindex='0']");
      if (scrolls && !held) el.tabIndex = 0; else el.removeAttribute("tabindex");
    });
  }

  /* The choices of the library call themselves a list box with options; they are radio buttons under one name. */
  function radios() {
    document.querySelectorAll(".dash-radioitems").forEach(function (el) {
      const name = el.parentElement.getAttribute("aria-labelledby");
      if (el.getAttribute("role") !== "radiogroup") el.setAttribute("role", "radiogroup");
      if (name) { el.setAttribute("aria-labelledby", name); }
      el.querySelectorAll("[role='option'], [aria-selected]").forEach(function (label) {
        label.removeAttribute("role");
        label.removeAttribute("aria-selected");
      });
    });
  }
  new MutationObserver(radios).observe(document, { subtree: true, childList: true, attributes: true,
    attributeFilter: ["aria-selected", "role"] });

  /* What had the focus may be drawn anew by an answer; then its likeness gets the focus, or what stands at its place
     where there is none any more. Otherwise the keyboard would begin again at the top of the page. */
  const STOPS = "#page a[href], #page button:not([disabled]), #page input, #page select, #page textarea,"
    + " #page summary, #page [tabindex='0']";
  const stops = function () { return Array.prototype.slice.call(document.querySelectorAll(STOPS)); };
  let held = null;
  document.addEventListener("focusin", function (event) {
    const el = event.target;
    held = el === document.body ? null
      : { el: el, id: el.id, tag: el.tagName, href: el.getAttribute("href"), text: el.textContent,
          place: stops().indexOf(el) };
  });
  function likeness() {
    if (held.id) return document.getElementById(held.id);
    const same = Array.prototype.filter.call(document.querySelectorAll("#page " + held.tag.toLowerCase()), function (el) {
      return held.href ? el.getAttribute("href") === held.href : el.textContent === held.text;
    });
    return same.find(function (el) { return el.textContent === held.text; }) || same[0] || null;
  }
  function hold() {
    if (!held || held.el.isConnected || document.activeElement !== document.body) return;
    const el = likeness();
    if (el) el.focus({ preventScroll: true });
    else window.setTimeout(stand, 200);  // its likeness may still be on its way
  }
  function stand() {
    if (!held || held.place < 0 || held.el.isConnected || document.activeElement !== document.body) return;
    const all = stops(), el = likeness() || all[Math.min(held.place, all.length - 1)];
    if (el) el.focus({ preventScroll: true });
  }
  new MutationObserver(hold).observe(document, { subtree: true, childList: true });

  /* An answer may also make what stands above it shorter or longer. What the keyboard is at then stays in sight, unless
     the reader has scrolled away from it. */
  let insight = false, fresh = false, looked = 0;
  function inside() {
    const el = document.activeElement, box = el && el !== document.body ? el.getBoundingClientRect() : null;
    return !!box && box.bottom > 0 && box.top < window.innerHeight;
  }
  function keep() {
    looked = 0;
    const el = document.activeElement;
    if (insight && !inside() && el && el.matches(":focus-visible")) el.scrollIntoView({ block: "nearest" });
  }
  document.addEventListener("focusin", function () {
    insight = fresh = true;
    window.requestAnimationFrame(function () { fresh = false; });
  });
  // In the frame of a focus the scroll is the focus's own, told of when an answer may have moved all once more.
  window.addEventListener("scroll", function () { if (!fresh) insight = inside(); }, { passive: true });
  new MutationObserver(function () { if (!looked) looked = window.requestAnimationFrame(keep); })
    .observe(document, { subtree: true, childList: true, attributes: true, attributeFilter: ["style", "class"] });

  /* For an undo that these pages do not offer, Dash keeps what every input was before: on a live page one more entry a
     second for as long as it is open, in a list that is copied whole for each. */
  function forget() {
    const kept = window.store && window.store.getState().history;
    if (kept && kept.past) kept.past.length = 0;
  }

  /* A question that was lost on its way leaves the page's clock stopped, as while an answer is awaited: it is set going
     again, so that a page left open comes back by itself. */
  const AGAIN_MS = 5000;
  let asked = 0;
  function again(now) {
    const tick = document.querySelector(".page.live") ? "live-tick" : document.querySelector(".page.lines") ? "lines-tick" : "";
    if (!tick || now - asked < AGAIN_MS || !window.dash_clientside.set_props) return;
    asked = now;
    window.dash_clientside.set_props(tick, { disabled: false });
  }

  let stamp = null, received = 0;
  window.setInterval(function () {
    reachable();
    begin();
    forget();
    const el = document.getElementById("newest");
    if (!el || !el.dataset.answer) {
      root.classList.remove("unanswered", "no-data");
      stamp = null;
      return;
    }
    const now = window.performance.now();
    if (el.dataset.answer !== stamp) { stamp = el.dataset.answer; received = now; }
    const quiet = now - received;
    const silent = quiet > Math.max(5000, 4 * +el.dataset.refresh);
    const age = +el.dataset.server - +el.dataset.reading + quiet;
    const stopped = el.dataset.reading === "" || age > +el.dataset.limit;
    root.classList.toggle("unanswered", silent);
    writable(silent);
    if (silent) again(now);
    root.classList.toggle("no-data", !silent && stopped);
    const words = silent ? el.dataset.silent : el.dataset.reading === "" ? el.dataset.none
      : stopped ? el.dataset.stopped : el.dataset.fresh;
    const text = words.replace("{age}", span(silent ? quiet : age)).replace("{at}", el.dataset.at);
    if (el.textContent !== text) el.textContent = text;
  }, 500);
})();

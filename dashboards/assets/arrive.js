/* An address with a fragment leads to a section of the page. The section is there only when its answer has come, and
   the answers above it move it: it is held at the top of the window until all has come or the reader moves. */
(function () {
  "use strict";
  const QUIET_MS = 2000, LONG_MS = 60000;
  let wanted = "", begun = 0, moved = 0, y = -1, height = 0;

  function begin() {
    wanted = decodeURIComponent(window.location.hash.slice(1));
    begun = moved = window.performance.now();
    y = -1;
  }
  function leave() { wanted = ""; }
  function awaited() { return !window.store || !!window.store.getState().isLoading; }

  function place() {
    if (!wanted) return;
    const now = window.performance.now(), el = document.getElementById(wanted);
    const tall = document.documentElement.scrollHeight, coming = !el || tall !== height || awaited();
    if (coming) moved = now;
    if (now - begun > LONG_MS || now - moved > QUIET_MS) { leave(); return; }
    // Moved while nothing came: that was the reader, by the scroll bar.
    if (!coming && y >= 0 && Math.abs(window.scrollY - y) > 2) { leave(); return; }
    if (el) {
      const gap = parseFloat(window.getComputedStyle(el).scrollMarginTop) || 0;
      if (Math.abs(el.getBoundingClientRect().top - gap) > 2) el.scrollIntoView();
      y = window.scrollY;
    }
    height = tall;
  }

  ["wheel", "touchstart", "pointerdown", "keydown"].forEach(function (name) {
    window.addEventListener(name, leave, { passive: true, capture: true });
  });
  ["hashchange", "_dashprivate_pushstate"].forEach(function (name) { window.addEventListener(name, begin); });
  window.setInterval(place, 150);
  begin();
})();

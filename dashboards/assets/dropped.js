/* Says at once when what is dropped on the import page is too large: the drop place itself would keep silent. What it says
   of a log on its way goes when the server has answered: with another page, or with why the log is not taken. */
(function () {
  "use strict";
  const MB = 1048576;

  function mb(bytes) { return String(Math.ceil(bytes / MB)); }

  function look(event) {
    const place = event.target.closest && event.target.closest("[data-most]");
    if (!place) return;
    const said = place.querySelector("[role=alert]");
    const files = Array.from((event.dataTransfer || event.target).files || []);
    if (!said || !files.length) return;
    const most = +place.dataset.most;
    const large = files.find(function (file) { return file.size > most; });
    const total = files.reduce(function (sum, file) { return sum + file.size; }, 0);
    if (large) {
      said.textContent = place.dataset.one.replace("{name}", large.name).replace("{size}", mb(large.size)).replace("{most}", mb(most));
    } else if (total > most) {
      said.textContent = place.dataset.all.replace("{size}", mb(total)).replace("{most}", mb(most));
    } else {
      said.textContent = place.dataset.sending;
      untilAnswered(said, place.dataset.sending);
    }
  }

  function untilAnswered(said, sending) {
    const answer = document.getElementById("import-said");
    if (!answer) return;
    const watch = new MutationObserver(function () {
      if (!answer.textContent) return;
      if (said.textContent === sending) said.textContent = "";
      watch.disconnect();
    });
    watch.observe(answer, {attributes: true, childList: true, characterData: true, subtree: true});
  }

  document.addEventListener("drop", look, true);
  document.addEventListener("change", look, true);
})();

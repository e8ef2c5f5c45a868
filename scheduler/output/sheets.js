"use strict";
(function () {
  // Ticks stay on this device until another plan's sheets come. Without storage the boxes still tick.
  const plan = document.documentElement.dataset.plan, page = location.pathname.split("/").pop();
  const key = (box) => `pressday ${plan} ${page} ${box.dataset.box}`;
  let store = null;
  try { store = window.localStorage; } catch (refused) { store = null; }
  document.querySelectorAll("input[data-box]").forEach((box) => {
    try { box.checked = store !== null && store.getItem(key(box)) === "1"; } catch (refused) { store = null; }
    box.addEventListener("change", () => {
      try {
        if (store !== null && box.checked) store.setItem(key(box), "1");
        else if (store !== null) store.removeItem(key(box));
      } catch (full) { /* a tick that can't be kept still shows */ }
    });
  });
  document.documentElement.dataset.ready = "1";
})();

// The page as an app: a worker that answers when the host does not, and what was seen last, for its page.
"use strict";
(() => {
  const KEEP_MS = 5000;
  const LAST = "lampwarden_last";
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js").catch(() => {});

  let kept = 0;
  document.addEventListener("lampwarden-beat", (event) => {
    const { where, headline, sentence } = event.detail;
    if (!headline || (Date.now() - kept < KEEP_MS && kept)) return;
    kept = Date.now();
    localStorage.setItem(LAST, JSON.stringify({ where, headline, sentence, at: kept }));
  });
  document.addEventListener("submit", (event) => {
    if (event.target.getAttribute("action") === "/sign-out") localStorage.removeItem(LAST);
  });

  // A link leads to a part of the page that comes with the live connection.
  const sought = location.hash.slice(1);
  if (sought) {
    const seeker = new MutationObserver(() => {
      const part = document.getElementById(sought);
      if (!part || part.hidden) return;
      seeker.disconnect();
      part.scrollIntoView({ block: "start" });
    });
    seeker.observe(document, { childList: true, subtree: true, attributes: true, attributeFilter: ["hidden"] });
    setTimeout(() => seeker.disconnect(), 10000);
  }
})();

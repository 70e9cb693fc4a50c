// Large letters on the page Now: in, out (also by Escape), remembered, and the screen kept on meanwhile.
"use strict";
(() => {
  const root = document.documentElement;
  const here = location.pathname.startsWith("/now/");
  const YEAR_S = 31536000;
  let lock = null;

  const keepAwake = async () => {
    const wanted = root.dataset.afar === "yes" && document.visibilityState === "visible";
    if (!wanted) {
      lock?.release();
      lock = null;
      return;
    }
    try {
      lock = await navigator.wakeLock.request("screen"); // there is none over plain http
      root.dataset.awake = "yes";
      lock.addEventListener("release", () => delete root.dataset.awake);
    } catch {
      delete root.dataset.awake;
    }
  };
  const set = (afar) => {
    if (afar) root.dataset.afar = "yes";
    else delete root.dataset.afar;
    document.cookie = `lampwarden_afar=${afar ? "yes" : ""}; path=/; max-age=${YEAR_S}; samesite=strict`;
    window.scrollTo(0, 0);
    document.querySelector(`[data-afar="${afar ? "no" : "yes"}"].button`)?.focus();
    keepAwake();
  };
  if (here && document.cookie.split("; ").includes("lampwarden_afar=yes")) {
    root.dataset.afar = "yes";
    keepAwake();
  }
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-afar]");
    if (button) set(button.dataset.afar === "yes");
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && root.dataset.afar === "yes") document.querySelector("button[data-afar='no']")?.click();
  });
  document.addEventListener("visibilitychange", keepAwake); // the lock is lost with the page out of sight
})();

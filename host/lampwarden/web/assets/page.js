// What the page does without the server: theme, preferences, the stop, and telling that the connection is lost.
"use strict";
(() => {
  const root = document.documentElement;
  const YEAR_S = 31536000;

  const remembered = (key) => {
    const found = document.cookie.split("; ").find((part) => part.startsWith(`lampwarden_${key}=`));
    return found ? decodeURIComponent(found.split("=")[1]) : "";
  };
  const remember = (key, value) => {
    document.cookie = `lampwarden_${key}=${encodeURIComponent(value)}; path=/; max-age=${YEAR_S}; samesite=strict`;
  };

  // --- theme: the system's, unless the person chose
  const system = matchMedia("(prefers-color-scheme: dark)");
  const theme = () => {
    const chosen = remembered("theme");
    root.dataset.theme = chosen === "dark" || chosen === "light" ? chosen : system.matches ? "dark" : "light";
  };
  theme();
  system.addEventListener("change", theme);
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
  if (zone && remembered("zone") !== zone) remember("zone", zone);

  window.lampwarden = Object.assign(window.lampwarden ?? {}, {
    zone: () => zone,
    choose: (key, value) => {
      remember(key, value);
      theme();
    },
  });

  // --- stop: straight to the API, so that it needs nothing but an answer from the server
  const STOP_MS_MAX = 5000;
  const stop = async (button) => {
    const said = document.getElementById("stopped");
    const label = button.querySelector("[data-words]");
    const before = label.textContent;
    label.textContent = "Stopping…";
    said.textContent = "";
    let refused = "";
    try {
      const answer = await fetch(`/api/chambers/${encodeURIComponent(button.dataset.chamber)}/stop`, {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify({ by: Array.from(remembered("name")).slice(0, 60).join("") || "a person at the page" }),
        signal: AbortSignal.timeout(STOP_MS_MAX),
      });
      if (!answer.ok) refused = ` ${(await answer.json()).detail}`;
      if (!answer.ok) throw new Error(refused);
      said.dataset.ok = "yes";
      const which = button.querySelector("small") ? ` of ${button.dataset.name}` : "";
      said.textContent = `Stopped: the lamps${which} were ordered dark.`;
      setTimeout(() => (said.textContent = ""), 6000);
    } catch {
      said.dataset.ok = "no";
      said.textContent = `The stop did not get through. Press the stop button on the chamber.${refused}`;
    }
    label.textContent = before;
  };
  document.addEventListener("click", (event) => {
    const button = event.target.closest("#stop");
    if (button) stop(button);
  });

  // --- connection: lost when the live connection says so, or when nothing has come for a while
  const SILENT_MS_MAX = 6000;
  let heard = performance.now();
  let broken = false;
  const judge = () => {
    const lost = broken || performance.now() - heard > SILENT_MS_MAX;
    const said = document.getElementById("stopped");
    if (!lost && document.body.dataset.link === "lost" && said.dataset.ok === "no") said.textContent = "";
    document.body.dataset.link = lost ? "lost" : "up";
  };
  document.addEventListener("DOMContentLoaded", () => {
    const popup = document.getElementById("popup");
    new MutationObserver(() => {
      broken = popup.getAttribute("aria-hidden") === "false";
      judge();
    }).observe(popup, { attributes: true });
    new MutationObserver((changes) => {
      if (changes.length) {
        heard = performance.now();
        judge();
        document.dispatchEvent(new CustomEvent("lampwarden-beat", { detail: { ...changes.at(-1).target.dataset } }));
      }
    }).observe(document.body, { subtree: true, attributes: true, attributeFilter: ["data-beat"] });
    setInterval(judge, 1000);
  });
})();

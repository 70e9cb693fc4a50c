// Calls the person by sound and by notifications of the browser, from whatever page is open. What stands now comes with each
// beat of the page; what this browser has called out already is remembered for all its pages.
"use strict";
(() => {
  const REPEAT_MS = 60000; // a fault that stands sounds again
  const chosen = (key) => document.cookie.split("; ").includes(`lampwarden_${key}=yes`);

  // --- sound: tones are made here, so that nothing has to be fetched
  let context = null;
  const ready = () => context !== null && context.state === "running";
  const open = () => {
    if (context === null && "AudioContext" in window) context = new AudioContext();
    if (context !== null && context.state === "suspended") context.resume().then(judge, () => {});
  };
  const tone = (hz, at_s, length_s, loud, shape) => {
    const wave = context.createOscillator();
    const gain = context.createGain();
    wave.type = shape;
    wave.frequency.value = hz;
    gain.gain.setValueAtTime(0, at_s);
    gain.gain.linearRampToValueAtTime(loud, at_s + 0.02);
    gain.gain.setValueAtTime(loud, at_s + length_s - 0.06);
    gain.gain.linearRampToValueAtTime(0, at_s + length_s);
    wave.connect(gain).connect(context.destination);
    wave.start(at_s);
    wave.stop(at_s + length_s);
  };
  // A call rises; with each reminder it comes more often, faster and louder. A fault falls, harshly.
  const sound = (fault, step) => {
    if (!ready()) return false;
    const begin_s = context.currentTime + 0.05;
    if (fault) {
      for (let i = 0; i < 4; i += 1) {
        tone(740, begin_s + i * 0.5, 0.22, 0.32, "square");
        tone(494, begin_s + i * 0.5 + 0.24, 0.22, 0.32, "square");
      }
      return true;
    }
    const times = Math.min(1 + step, 4);
    const length_s = step < 2 ? 0.3 : 0.18;
    for (let i = 0; i < times; i += 1) {
      const at_s = begin_s + i * (2 * length_s + 0.25);
      tone(587, at_s, length_s, Math.min(0.25 + 0.12 * step, 0.6), "triangle");
      tone(880, at_s + length_s, length_s, Math.min(0.25 + 0.12 * step, 0.6), "triangle");
    }
    return true;
  };

  // --- notifications
  const allowed = () => "Notification" in window && Notification.permission === "granted";
  const worker = () => navigator.serviceWorker?.getRegistration() ?? Promise.resolve(undefined);
  const notify = async (alert) => {
    const about = {
      body: alert.body, tag: alert.tag, renotify: true, requireInteraction: alert.fault || alert.step > 0,
      icon: "/assets/icon-192.png", data: { href: alert.href },
    };
    try {
      const registered = await worker();
      if (registered?.active) return await registered.showNotification(alert.title, about);
      const shown = new Notification(alert.title, about);
      shown.onclick = () => {
        window.focus();
        location.href = alert.href;
      };
    } catch {
      say("This browser refused to show a notification. Look under Display.");
    }
  };
  const withdraw = async (tag) => {
    const registered = await worker();
    for (const each of (await registered?.getNotifications({ tag })) ?? []) each.close();
  };

  // --- what the browser does not let us do is said on the page
  const said = () => document.getElementById("calling-said");
  let refused = "";
  const say = (text) => {
    refused = text;
    judge();
  };
  function judge() {
    const place = said();
    if (!place) return;
    const deaf = chosen("sound") && !ready();
    let text = refused;
    if (deaf) {
      text = "AudioContext" in window
        ? "You want to be called by sound, but this browser lets a page sound only after a touch."
        : "You want to be called by sound, but this browser makes none.";
    } else if (chosen("notifications") && !allowed()) {
      text = "You want notifications, but this browser does not allow them here. Look under Display.";
    }
    place.querySelector("span").textContent = text;
    place.querySelector("button").hidden = !deaf || !("AudioContext" in window);
    place.hidden = text === "";
  }
  for (const touch of ["pointerdown", "keydown"]) {
    document.addEventListener(touch, () => {
      if (chosen("sound")) open();
    }, true);
  }

  // --- what stands now
  const remembered = () => {
    try {
      return JSON.parse(localStorage.getItem("lampwarden_heard") || "{}");
    } catch {
      return {};
    }
  };
  let first = true;
  let waits = null; // an alert that could not sound yet
  const look = (alerts) => {
    const heard = remembered();
    const now = Date.now();
    const kept = {};
    for (const alert of alerts) {
      const last = heard[alert.tag];
      const fresh = !last || last.key !== alert.key;
      const again = !fresh && alert.fault && !alert.over && now - last.at >= REPEAT_MS;
      kept[alert.tag] = fresh || again ? { key: alert.key, at: now } : last;
      if (fresh && alert.over && first) continue; // an end of long ago
      if (fresh && chosen("notifications") && allowed()) notify(alert);
      if ((fresh || again) && chosen("sound") && !sound(alert.fault, alert.step)) waits = alert;
    }
    if (waits !== null && !alerts.some((alert) => alert.key === waits.key)) waits = null;
    if (waits !== null && ready()) {
      sound(waits.fault, waits.step);
      waits = null;
    }
    for (const tag of Object.keys(heard)) if (!(tag in kept)) withdraw(tag);
    localStorage.setItem("lampwarden_heard", JSON.stringify(kept));
    first = false;
    judge();
  };
  document.addEventListener("lampwarden-beat", (event) => look(JSON.parse(event.detail.alerts || "[]")));
  document.addEventListener("DOMContentLoaded", () => {
    if (chosen("sound")) open();
    said()?.querySelector("button").addEventListener("click", open);
    setTimeout(judge, 500);
  });

  window.lampwarden = Object.assign(window.lampwarden ?? {}, {
    hear: (fault) => {
      open(); // within a click, as browsers ask for
      setTimeout(() => sound(fault, 0), 150);
    },
    askForNotifications: async () => {
      if (!window.isSecureContext) return "insecure";
      if (!("Notification" in window)) return "unknown";
      return Notification.requestPermission();
    },
  });
})();

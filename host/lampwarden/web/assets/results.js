// The line between before and after: the picture follows the slider without asking the server.
"use strict";
document.addEventListener("input", (event) => {
  const slide = event.target.closest("input.rs-slide");
  if (!slide) return;
  slide.closest(".rs-pair").style.setProperty("--at", `${slide.value}%`);
  slide.setAttribute(
    "aria-valuetext",
    `${slide.value} % of the width shows ${slide.dataset.left}, the rest ${slide.dataset.right}`,
  );
});
// A bag from another host goes straight to the API, with its progress told; the page then reads what came of it.
(() => {
  const name = () => {
    const found = document.cookie.split("; ").find((part) => part.startsWith("lampwarden_name="));
    return (found && Array.from(decodeURIComponent(found.split("=")[1])).slice(0, 60).join("").trim()) || "a person at the page";
  };
  document.addEventListener("change", (event) => {
    const field = event.target.closest("input[data-bag]");
    if (!field || !field.files.length) return;
    const working = document.getElementById("bag-working");
    const form = new FormData();
    form.append("by", name());
    form.append("file", field.files[0]);
    const asked = new XMLHttpRequest();
    const done = (said) => {
      if (working) working.textContent = "";
      field.value = "";
      field.dispatchEvent(new CustomEvent("sent", { detail: said }));
    };
    asked.upload.onprogress = (at) => {
      if (!working || !at.lengthComputable) return;
      const share = Math.round((100 * at.loaded) / at.total);
      working.textContent = share < 100 ? `Sending it… ${share} %` : "Checking every file against its hash…";
    };
    asked.onload = () => {
      let said = "";
      if (asked.status !== 201) {
        try { said = JSON.parse(asked.responseText).detail; } catch { said = "The server refused it."; }
      }
      done(said && `Not taken in. ${said}`);
    };
    asked.onerror = () => done("It did not get through. Look at the connection, then choose it again.");
    asked.open("POST", "/api/elsewhere");
    asked.send(form);
  });
})();

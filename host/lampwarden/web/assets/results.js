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

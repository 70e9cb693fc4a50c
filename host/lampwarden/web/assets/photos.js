// Sends photos straight to the API: a live connection is no way for many megabytes. Tells the page what came of it.
"use strict";
(() => {
  const name = () => {
    const found = document.cookie.split("; ").find((part) => part.startsWith("lampwarden_name="));
    return (found && Array.from(decodeURIComponent(found.split("=")[1])).slice(0, 60).join("").trim()) || "a person at the page";
  };
  document.addEventListener("change", async (event) => {
    const field = event.target.closest("input[data-photos]");
    if (!field || !field.files.length) return;
    const working = document.getElementById("photos-working");
    const count = field.files.length;
    if (working) working.textContent = count === 1 ? "Sending the photo and reading it…" : `Sending ${count} photos and reading them…`;
    const form = new FormData();
    form.append("by", name());
    for (const key of ["session", "sheet", "checkpoint", "way"]) if (field.dataset[key]) form.append(key, field.dataset[key]);
    for (const file of field.files) form.append("files", file);
    let said = "";
    try {
      const answer = await fetch(`/api/chambers/${encodeURIComponent(field.dataset.photos)}/photos`, { method: "POST", body: form });
      if (!answer.ok) said = (await answer.json()).detail || "The server refused it.";
    } catch {
      said = "The photo did not get through. Look at the connection, then choose it again.";
    }
    if (working) working.textContent = "";
    field.value = "";
    field.dispatchEvent(new CustomEvent("sent", { detail: said }));
  });
})();

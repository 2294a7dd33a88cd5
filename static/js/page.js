// Comforts only; every page works without them.
const summary = document.querySelector("[data-focus]");
if (summary) summary.focus();

document.addEventListener("click", (event) => {
  for (const menu of document.querySelectorAll("details.who[open]")) {
    if (!menu.contains(event.target)) menu.open = false;
  }
});

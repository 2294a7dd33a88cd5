// Comforts only; every page works without them.
const summary = document.querySelector("[data-focus]");
if (summary) summary.focus();

document.addEventListener("click", (event) => {
  for (const menu of document.querySelectorAll("details.who[open]")) {
    if (!menu.contains(event.target)) menu.open = false;
  }
});

// More rows of throws without asking the site, which may be out of reach.
document.addEventListener("click", (event) => {
  const more = event.target.closest("button[name=more]");
  if (!more) return;
  event.preventDefault();
  const rows = more.form.elements.rows;
  const last = more.form.querySelector(".throws > div:last-child");
  for (let place = Number(rows.value); place < Math.min(Number(rows.value) + 12, 120); place += 1) {
    const row = last.cloneNode(true);
    row.className = "";
    row.querySelector(".why")?.remove();
    const [label, input] = [row.querySelector("label"), row.querySelector("input")];
    label.lastChild.textContent = place + 1;
    input.name = `throw${place}`;
    input.id = label.htmlFor = `count-throw${place}`;
    input.value = "";
    input.removeAttribute("aria-describedby");
    input.removeAttribute("aria-invalid");
    last.parentElement.append(row);
  }
  rows.value = Math.min(Number(rows.value) + 12, 120);
  more.hidden = Number(rows.value) === 120;
});

// Planned amounts follow the acres done for as long as nobody has typed another.
document.addEventListener("input", ({ target }) => {
  if (target.name !== "acres") return;
  for (const amount of target.form.querySelectorAll("[data-per-acre]")) {
    const acres = Number(target.value.replace(",", "."));
    if (amount.value !== (amount.dataset.followed ?? amount.defaultValue) || !(acres > 0)) continue;
    amount.value = Number((amount.dataset.perAcre * acres).toPrecision(4));
    amount.dataset.followed = amount.value;
  }
});

// A text that is shown once is copied with one press.
document.addEventListener("click", async ({ target }) => {
  const id = target.dataset?.copies;
  if (!id) return;
  const text = document.getElementById(id);
  text.select();
  await navigator.clipboard?.writeText(text.value).catch(() => {});
});

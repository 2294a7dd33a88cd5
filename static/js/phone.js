// Without a signal: keeps pages for the field, lets records wait, and says so on every page.
(() => {
  const { worker, phone, keep, keptAt } = document.body.dataset;
  const store = self.phoneStore;
  const workers = navigator.serviceWorker;
  const waitingForms = document.querySelectorAll("form[data-waits]");

  // The text in the language of the page, with its values put into it.
  const say = (text, values = {}) =>
    (self.phoneWords?.[text] ?? text).replace(/\{(\w+)\}/g, (place, name) => values[name] ?? place);
  const language = document.documentElement.lang.startsWith("en") ? "en-US" : document.documentElement.lang;
  const day = new Intl.DateTimeFormat(language, { weekday: "short", month: "short", day: "numeric" });
  const clock = new Intl.DateTimeFormat(language, { hour: "numeric", minute: "2-digit" });

  // The hour alone where it is today's.
  function moment(text) {
    const then = new Date(text);
    const today = then.toDateString() === new Date().toDateString();
    return (today ? "" : `${day.format(then)}, `) + clock.format(then);
  }

  function make(tag, text = "", attributes = {}) {
    const made = document.createElement(tag);
    made.textContent = text;
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    return made;
  }

  function localToday() {
    const now = new Date();
    return new Date(now - now.getTimezoneOffset() * 60000).toISOString().slice(0, 10);
  }

  const wordsOf = (field) => (field.type === "date" ? day.format(new Date(`${field.value}T12:00`)) : field.value);

  function labelOf(field) {
    const label = field.labels?.[0]?.cloneNode(true);
    for (const aside of label?.querySelectorAll(".unseen, .optional") ?? []) aside.remove();
    return label?.textContent.trim() || field.name;
  }

  // What a form says, in the words that stand beside its fields: shown wherever the record waits.
  function asShown(form) {
    const pairs = [];
    for (const field of form.elements) {
      if (!field.name || field.type === "hidden" || !field.value || field.tagName === "BUTTON") continue;
      if ((field.type === "radio" || field.type === "checkbox") && !field.checked) continue;
      const chosen = field.tagName === "SELECT" ? field.selectedOptions[0]?.textContent : wordsOf(field);
      const own = labelOf(field);
      const group = field.closest("fieldset")?.querySelector("legend")?.firstChild?.textContent.trim() ?? "";
      const radio = field.type === "radio" || field.type === "checkbox";
      const unit = field.parentElement.querySelector(".unit")?.textContent ?? "";
      const used = field.closest("fieldset.used") ? `${group}: ` : "";
      pairs.push(radio ? [group, own] : [used + own, `${chosen} ${unit}`.trim()]);
    }
    const where = document.querySelector("[data-where]")?.dataset.where ?? "";
    return { title: [document.querySelector("h1").textContent, where].filter(Boolean).join(": "), pairs };
  }

  for (const form of waitingForms) {
    form.addEventListener("submit", () => {
      form.querySelector("[name=as_shown]")?.remove();
      form.append(make("input", "", { type: "hidden", name: "as_shown", value: JSON.stringify(asShown(form)) }));
    });
  }

  // A page shown a second time writes another record than the first time.
  function freshIds() {
    for (const form of waitingForms) form.elements.uid.value = crypto.randomUUID();
  }
  addEventListener("pageshow", (event) => {
    if (event.persisted) freshIds();
  });

  function showCopy() {
    freshIds();
    for (const form of waitingForms) {
      const on = form.elements.on;
      if (on?.type === "date" && on.value === on.defaultValue) on.value = localToday();
    }
    for (const form of document.querySelectorAll("form[method=post]:not([data-waits])")) {
      for (const button of form.querySelectorAll("button")) button.disabled = true;
      form.append(make("p", say("Needs a signal."), { class: "quiet" }));
    }
    const words = say("What you write down here waits on this device and is sent when there is a signal.");
    const copy = say("No signal. This is the copy kept at {time}.", { time: moment(keptAt) });
    notice(`${copy} ${waitingForms.length ? words : ""}`, "no-signal");
  }

  function notice(words, kind, href = "", link = "") {
    const strip = document.getElementById("on-device");
    strip.querySelector(`.${kind}`)?.remove();
    if (!words && !link) return;
    const said = make("p", words, { class: kind });
    if (link) said.append(" ", make("a", link, { href }));
    strip.append(said);
  }

  const STATES = {
    waiting: say("Waits for a signal"),
    "signed out": say("Waits until you sign in"),
    another: say("Waits until its writer signs in"),
    changed: say("Somebody changed this visit in between"),
    refused: say("The site does not take it like this"),
  };

  function waitingWords(number, ask) {
    const many = number === 1
      ? say("1 record waits on this device")
      : say("{number} records wait on this device", { number });
    if (!ask) return many;
    return ask === 1
      ? say("{waiting}; look at one of them", { waiting: many })
      : say("{waiting}; look at {number} of them", { waiting: many, number: ask });
  }

  async function refresh() {
    const waiting = await store.all("waiting");
    const ask = waiting.filter((row) => row.state === "changed" || row.state === "refused").length;
    const link = waiting.length ? waitingWords(waiting.length, ask) : "";
    notice("", "count", phone, location.pathname === phone ? "" : link);
    const mine = waiting.filter((row) => row.url.startsWith(location.pathname.replace(/count\/$/, "")));
    if (/\/work\/\d+\//.test(location.pathname)) {
      notice(mine.length ? say("A record of this visit waits on this device.") : "", "mine");
    }
    const note = document.getElementById("kept-note");
    if (note && !keptAt) await noteKept(note);
    if (document.getElementById("waiting")) await showPhone(waiting);
  }

  async function noteKept(note) {
    const kept = await store.get("facts", "kept");
    const pages = Object.values(kept?.practices ?? {}).flatMap((practice) => practice.pages);
    const own = pages.find((row) => row.url === location.pathname);
    note.textContent = own
      ? ` ${say("Kept on this device for a day without a signal, at {time}.", { time: moment(own.at) })}`
      : "";
  }

  // The page of the device itself

  async function showPhone(waiting) {
    if (location.pathname !== phone) {
      document.getElementById("why").textContent = say("No signal, and that page is not kept here. This is what is.");
    }
    fill("waiting", waiting.map(waitingRow), say("Nothing waits. Every record of this device is with the site."));
    document.getElementById("send").hidden = !waiting.length;
    const kept = await store.get("facts", "kept");
    fill("kept", Object.values(kept?.practices ?? {}).flatMap(({ pages }) => pages.filter((row) => row.title).map(keptRow)),
      say("Nothing is kept. Open the work of your practice while there is a signal."));
    const sent = (await store.all("sent")).sort((one, other) => other.sent.localeCompare(one.sent));
    fill("sent", sent.map(sentRow), say("Nothing was sent from here of late."));
  }

  function fill(id, rows, none) {
    document.getElementById(id).replaceChildren(...(rows.length ? rows : [make("li", none, { class: "quiet" })]));
  }

  // The page that a record belongs to.
  const pageOf = (url) => url.replace(/(do|count|walks\/new)\/$/, "");

  function sentRow(row) {
    const item = make("li");
    item.append(make("a", row.title, { href: pageOf(row.url) }), ` ${row.said} `);
    item.append(make("span", say("Sent at {time}", { time: moment(row.sent) }), { class: "quiet" }));
    return item;
  }

  function keptRow(row) {
    const item = make("li");
    item.append(make("a", row.title, { href: row.url }), " ");
    const on = day.format(new Date(`${row.on}T12:00`));
    item.append(make("span", say("for {day}, kept at {time}", { day: on, time: moment(row.at) }), { class: "quiet" }));
    return item;
  }

  function pairsOf(heading, pairs) {
    const part = make("div");
    const list = make("dl", "", { class: "facts" });
    for (const [label, text] of pairs) list.append(make("dt", label), make("dd", text));
    part.append(make("h4", heading), list);
    return part;
  }

  function waitingRow(row) {
    const item = make("li", "", { class: `waits ${row.state.replace(" ", "-")}` });
    item.append(make("h3", row.title));
    const said = make("p");
    said.append(make("strong", STATES[row.state]), row.state === "another" ? `: ${row.person}.` : ".");
    if (row.state === "refused") said.append(` ${say(row.answer.said)}`);
    item.append(said, make("p", say("Written at {time} by {person}.", { time: moment(row.written), person: row.person }), { class: "quiet" }));
    for (const [label, text] of row.answer?.wrong ?? []) item.append(make("p", label ? `${label}: ${text}` : text, { class: "why" }));
    const written = pairsOf(say("Written here"), row.pairs);
    if (row.state === "changed") {
      const both = make("div", "", { class: "both" });
      both.append(written, pairsOf(say("As it stands now"), row.answer.now));
      item.append(both);
    } else {
      const fold = make("details");
      fold.append(make("summary", say("What it says")), written);
      item.append(fold);
    }
    item.append(actsOf(row));
    return item;
  }

  function actsOf(row) {
    const acts = make("div", "", { class: "acts" });
    if (row.state === "changed") acts.append(button(say("Write mine on top"), "", () => tellWorker({ again: row.uid })));
    if (row.state === "changed" || row.state === "refused") acts.append(mendForm(row));
    if (row.state === "signed out") acts.append(make("a", say("Sign in"), { class: "go second", href: "/" }));
    const sure = make("details", "", { class: "sure" });
    sure.append(make("summary", say("Throw it away")), make("p", say("It is written nowhere else. Thrown away, it is gone.")));
    sure.append(button(say("Throw it away for good"), "danger", () => store.remove("waiting", row.uid).then(refresh)));
    acts.append(sure);
    return acts;
  }

  function button(words, kind, act) {
    const made = make("button", words, { type: "button", ...(kind && { class: kind }) });
    made.addEventListener("click", act);
    return made;
  }

  // Takes what was typed to its own page, where the site shows it beside the visit and what is wrong with it.
  function mendForm(row) {
    const form = make("form", "", { method: "post", action: row.url, class: "inline" });
    for (const [name, value] of row.body) form.append(make("input", "", { type: "hidden", name, value }));
    const shown = JSON.stringify({ title: row.title, pairs: row.pairs });
    form.append(make("input", "", { type: "hidden", name: "as_shown", value: shown }));
    form.append(make("button", say("Open it to mend"), { class: "second" }));
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const kept = await store.get("facts", "kept");
      form.append(make("input", "", { type: "hidden", name: "csrfmiddlewaretoken", value: kept?.csrf ?? "" }));
      form.submit();
    });
    return form;
  }

  async function tellWorker(said) {
    (await workers.ready).active.postMessage(said);
  }

  async function start() {
    if (keptAt) showCopy();
    await refresh();
    if (!workers || !(keep || location.pathname === phone)) return;
    workers.addEventListener("message", refresh);
    await workers.register(worker, { scope: "/" });
    addEventListener("online", () => tellWorker({ send: true }));
    if (waitingForms.length) navigator.storage?.persist?.();
    await tellWorker({ send: true, keep: keptAt ? "" : keep });
  }

  document.getElementById("send")?.addEventListener("click", () => tellWorker({ send: true }));
  start().catch((error) => {
    if (location.pathname === phone) notice(say("This browser keeps nothing for the field: {why}", { why: error.message }), "cannot");
  });
})();

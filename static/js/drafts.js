// What is half typed survives a closed tab, a lost signal and a session that ran out: it is kept on this device,
// under its writer and practice, until the site says that it is kept there, its writer throws it away or signs out.
(() => {
  const PREFIX = "draft:";
  const KEPT_DAYS = 14;
  const NEVER = new Set(["hidden", "password", "file", "search", "submit", "button", "reset", "image"]);
  const owner = document.body.dataset.drafts;

  function stored(key) {
    try {
      return JSON.parse(localStorage.getItem(key));
    } catch {
      return null;
    }
  }

  function store(key, draft) {
    try {
      localStorage.setItem(key, JSON.stringify(draft));
    } catch {
      // A full device keeps no drafts; the page works as it would without them.
    }
  }

  function each(act) {
    for (const key of Object.keys(localStorage)) {
      if (key.startsWith(PREFIX)) act(key, stored(key));
    }
  }

  const forget = (word) =>
    each((key, draft) => {
      if (draft?.once === word) localStorage.removeItem(key);
    });
  const goesTo = (form) => new URL(form.getAttribute("action") ?? "", location).pathname;

  document.addEventListener("submit", ({ target }) => {
    if (goesTo(target) === document.body.dataset.signOut) each((key) => localStorage.removeItem(key));
  });
  document.addEventListener("click", ({ target }) => {
    const word = target.dataset?.forgets;
    if (word) forget(word);
  });

  // The site names the form that it took. A page that tells of a refusal took nothing.
  function forgetKept() {
    const word = document.cookie.match(/(?:^|; )kept=([-\w]+)/)?.[1];
    if (!word) return;
    document.cookie = "kept=; path=/; max-age=0";
    if (!document.querySelector(".said .error")) forget(word);
  }

  const before = Date.now() - KEPT_DAYS * 86_400_000;
  each((key, draft) => {
    if (!(draft?.at > before)) localStorage.removeItem(key);
  });
  forgetKept();
  if (!owner) return;

  const wanted = (field) => field.name && !field.disabled && !NEVER.has(field.type) && field.autocomplete !== "one-time-code" && !field.closest("[data-no-draft]");
  const ticks = (field) => field.type === "checkbox" || field.type === "radio";

  // [name, value, ticked] of each field, in the order of the page; of a choice of several, each that is chosen.
  function typedIn(form) {
    return [...form.elements].filter(wanted).map((field) => {
      if (ticks(field)) return [field.name, field.value, field.checked];
      return [field.name, field.multiple ? [...field.selectedOptions].map((one) => one.value) : field.value];
    });
  }

  // Gives back what has a field on the page; what is left has none there yet.
  function bringBack(form, fields) {
    const places = new Map();
    return fields.filter(([name, value, ticked]) => {
      const same = [...form.elements].filter((field) => wanted(field) && field.name === name);
      const place = places.get(name) ?? 0;
      places.set(name, place + 1);
      const field = ticked === undefined ? same[place] : same.find((one) => one.value === value);
      if (!field) return true;
      if (ticked !== undefined) field.checked = ticked;
      else if (field.multiple) for (const option of field.options) option.selected = value.includes(option.value);
      else field.value = value;
      return false;
    });
  }

  const seen = new Map();
  for (const form of document.querySelectorAll("form[method=post]:not([data-no-draft])")) {
    if (![...form.elements].some(wanted)) continue;
    const action = goesTo(form);
    const place = seen.get(action) ?? 0;
    seen.set(action, place + 1);
    watch(form, `${PREFIX}${owner}:${action}:${place}`);
  }

  function watch(form, key) {
    const start = JSON.stringify(typedIn(form));
    const earlier = `${key}:earlier`;
    const opened = () => form.elements.opened;
    let offered = false;

    const offer = (slot) => {
      const draft = stored(slot);
      if (!draft || JSON.stringify(draft.fields) === start) return;
      offered = true;
      const notice = document.getElementById("draft").content.firstElementChild.cloneNode(true);
      const time = notice.querySelector("time");
      const then = new Date(draft.at);
      time.dateTime = then.toISOString();
      time.textContent = then.toLocaleString(document.documentElement.lang, { dateStyle: "long", timeStyle: "short" });
      notice.querySelector("[data-moved]").hidden = !draft.opened || draft.opened === opened()?.value;
      notice.querySelector("[data-bring]").addEventListener("click", () => {
        const left = bringBack(form, draft.fields);
        // Set on top of what it was typed on: what changed since is shown beside it before anything is written.
        if (draft.opened && opened()) opened().value = draft.opened;
        done(slot, key);
        for (const field of form.elements) {
          if (wanted(field)) field.dispatchEvent(new Event("change", { bubbles: true }));
        }
        if (left.length) document.addEventListener("htmx:afterSettle", () => bringBack(form, left), { once: true });
        [...form.elements].find(wanted)?.focus();
      });
      notice.querySelector("[data-throw]").addEventListener("click", () => {
        localStorage.removeItem(slot);
        done(slot, "");
      });
      const done = (from, to) => {
        if (to && from !== to) {
          store(to, draft);
          localStorage.removeItem(from);
        }
        notice.remove();
        offered = false;
      };
      form.prepend(notice);
    };
    offer(earlier);
    offer(key);

    const keep = () => {
      const fields = typedIn(form);
      if (offered) {
        // What was offered and not answered stays beside what is typed now.
        const draft = stored(key);
        if (draft) store(earlier, draft);
        offered = false;
      }
      if (JSON.stringify(fields) === start) localStorage.removeItem(key);
      else store(key, { at: Date.now(), fields, opened: opened()?.value ?? "", once: form.elements.once?.value ?? "" });
    };
    form.addEventListener("input", keep);
    form.addEventListener("change", keep);
    form.addEventListener("submit", () => {
      // A record without a signal waits whole, and is sent by itself.
      if (form.matches("[data-waits]") && navigator.serviceWorker?.controller) localStorage.removeItem(key);
      else if (stored(key)) store(key, { ...stored(key), once: form.elements.once?.value ?? "" });
    });
  }
})();

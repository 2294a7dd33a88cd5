// Stands between pages and the network: shows kept pages when there is no signal, and holds records until there is.
// SITE, put before this by the site, says where things are.
importScripts(SITE.store);
const store = self.phoneStore;

const ASSETS = "assets";
const PAGES = "pages";
const PATIENCE_MS = 6000;
const WAITS = /^\/[-\w]+\/(work\/\d+\/(do|count)|fields\/\d+\/walks\/new)\/$/;
const NO_ANSWER = [502, 503, 504];

self.addEventListener("install", (event) => {
  event.waitUntil(setUp().then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  // Kept pages name the assets of the site as it was; the next visit keeps them anew.
  event.waitUntil(caches.delete(PAGES).then(() => self.clients.claim()));
});

async function setUp() {
  const cache = await caches.open(ASSETS);
  // All or none: what was kept before serves until every one of these is here.
  await cache.addAll([...SITE.assets, new Request(SITE.page, { credentials: "omit", cache: "no-store" })]);
  const wanted = new Set([...SITE.assets, SITE.page]);
  for (const request of await cache.keys()) {
    if (!wanted.has(new URL(request.url).pathname)) await cache.delete(request);
  }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    if (request.method === "GET") event.respondWith(page(request));
    else if (WAITS.test(url.pathname)) event.respondWith(written(event));
    else if (url.pathname === SITE.signOut) event.respondWith(signedOut(event));
  } else if (request.method === "GET" && url.pathname.startsWith(SITE.static)) {
    event.respondWith(fetch(request).catch(async () => (await caches.match(request)) ?? Response.error()));
  }
});

self.addEventListener("message", (event) => {
  const { keep: list, send: now, again } = event.data;
  if (list) event.waitUntil(keep(list).catch(() => {}));
  if (again) event.waitUntil(onTop(again).then(send));
  if (now) event.waitUntil(send());
});

self.addEventListener("sync", (event) => event.waitUntil(send()));

async function tell() {
  for (const client of await self.clients.matchAll()) client.postMessage("changed");
}

// Pages

async function page(request) {
  const kept = await caches.match(request, { cacheName: PAGES });
  const fresh = fetch(request);
  try {
    return await (kept ? Promise.race([fresh, patience()]) : fresh);
  } catch {
    fresh.catch(() => {});
    return kept ? copyToShow(kept) : (await caches.match(SITE.page, { ignoreSearch: true })) ?? Response.error();
  }
}

function patience() {
  return new Promise((_, reject) => setTimeout(() => reject(new Error("no answer in time")), PATIENCE_MS));
}

async function copyToShow(kept) {
  const html = (await kept.text()).replace("<body", `<body data-kept-at="${kept.headers.get("X-Kept-At")}"`);
  return new Response(html, { headers: kept.headers });
}

async function listOf(url) {
  const response = await fetch(url, { cache: "no-store" });
  return response.ok && !response.redirected ? response.json() : null;
}

// One at a time: two pages of the site may ask at once.
const keep = (url) =>
  navigator.locks.request("keep", async () => {
    const list = await listOf(url);
    if (!list) return;
    let kept = await store.get("facts", "kept");
    if (!kept || kept.user !== list.user) {
      await caches.delete(PAGES);
      kept = { name: "kept", user: list.user, practices: {} };
    }
    const before = new Map((kept.practices[list.practice]?.pages ?? []).map((one) => [one.url, one]));
    const cache = await caches.open(PAGES);
    const pages = [];
    for (const wanted of list.pages) {
      const had = before.get(wanted.url);
      before.delete(wanted.url);
      const same = had?.stamp === wanted.stamp && (await cache.match(wanted.url));
      const at = same ? had.at : await keepPage(cache, wanted.url);
      if (at) pages.push({ ...wanted, at });
      else if (had) pages.push(had);
    }
    for (const gone of before.keys()) await cache.delete(gone);
    kept.practices[list.practice] = { list: url, pages };
    await store.put("facts", { ...kept, person: list.person, csrf: list.csrf });
    await tell();
  });

// When the copy was made, or nothing where the page could not be had.
async function keepPage(cache, url) {
  const response = await fetch(url, { headers: { [SITE.keptCopy]: "yes" }, cache: "no-store" }).catch(() => null);
  if (!response?.ok || response.redirected) return "";
  const at = new Date().toISOString();
  const headers = new Headers(response.headers);
  for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name);
  headers.set("X-Kept-At", at);
  await cache.put(url, new Response(await response.blob(), { headers }));
  return at;
}

async function signedOut(event) {
  const response = await fetch(event.request);
  event.waitUntil(forget());
  return response;
}

// In its turn after what is being kept at the moment, so that nothing of that stays.
const forget = () =>
  navigator.locks.request("keep", async () => {
    await caches.delete(PAGES);
    await store.remove("facts", "kept");
    await tell();
  });

// Records

async function written(event) {
  const copy = event.request.clone();
  try {
    const response = await fetch(event.request);
    if (NO_ANSWER.includes(response.status)) throw new Error("no answer from the site");
    // A record that waited and was mended on its page: sending it once more finds out whether it is kept.
    if (response.type === "opaqueredirect") event.waitUntil(mended(copy));
    return response;
  } catch {
    const waits = await wait(copy).catch(() => false);
    return waits ? Response.redirect(`${SITE.page}?new=${waits}`, 303) : Response.error();
  }
}

async function wait(request) {
  const form = await request.formData();
  const kept = await store.get("facts", "kept");
  const uid = form.get("uid");
  if (!kept || !uid || form.has("more")) return "";
  const shown = JSON.parse(form.get("as_shown") || "{}");
  const body = [...form].filter(([name]) => name !== "csrfmiddlewaretoken" && name !== "as_shown");
  const url = new URL(request.url).pathname;
  await store.put("waiting", {
    ...{ uid, url, body, title: shown.title || url, pairs: shown.pairs || [] },
    ...{ user: kept.user, person: kept.person, written: new Date().toISOString(), state: "waiting" },
  });
  if (self.registration.sync) self.registration.sync.register("send").catch(() => {});
  await tell();
  return uid;
}

async function mended(request) {
  const uid = (await request.formData()).get("uid");
  const row = uid && (await store.get("waiting", uid));
  if (!row) return;
  await store.put("waiting", { ...row, state: "waiting" });
  await send();
}

// Somebody saw both versions and puts this one on top.
async function onTop(uid) {
  const row = await store.get("waiting", uid);
  const now = row?.answer;
  if (!now?.version) return;
  // What waited since before forms carried `opened` carries `version`.
  const onto = { opened: now.opened, version: String(now.version) };
  const body = row.body.map(([name, value]) => [name, onto[name] ?? value]);
  await store.put("waiting", { ...row, body, state: "waiting", answer: null });
}

const send = () =>
  navigator.locks.request("send", async () => {
    const kept = await store.get("facts", "kept");
    const lists = {};
    for (const row of (await store.all("waiting")).sort((one, other) => one.written.localeCompare(other.written))) {
      if (row.state === "changed" || row.state === "refused") continue;
      const practice = row.url.split("/")[1];
      const list = kept?.practices[practice]?.list ?? `/${practice}/work/kept.json`;
      lists[practice] ??= await listOf(list).catch(() => "no signal");
      await sendOne(row, lists[practice]);
    }
    await tell();
  });

async function sendOne(row, list) {
  if (list === "no signal") return store.put("waiting", { ...row, state: "waiting" });
  if (!list) return store.put("waiting", { ...row, state: "signed out" });
  if (list.user !== row.user) return store.put("waiting", { ...row, state: "another" });
  const headers = { Accept: "application/json", "X-CSRFToken": list.csrf };
  let response;
  try {
    response = await fetch(row.url, { method: "POST", headers, body: new URLSearchParams(row.body) });
  } catch {
    return store.put("waiting", { ...row, state: "waiting" });
  }
  const answer = await response.json().catch(() => null);
  if (response.redirected || response.status === 403) return store.put("waiting", { ...row, state: "signed out" });
  if (response.ok && answer) {
    const { uid, url, title } = row;
    return store.sent({ uid, url, title, said: answer.said, sent: new Date().toISOString() });
  }
  if (response.status === 409 && answer) return store.put("waiting", { ...row, state: "changed", answer });
  if (response.status === 422 && answer) return store.put("waiting", { ...row, state: "refused", answer });
  if (response.status === 404) {
    // Told in the language of the page that shows it.
    const say = (text) => text;
    const said = say("The site knows no such visit any more. Ask the office, and keep what is written here.");
    return store.put("waiting", { ...row, state: "refused", answer: { said, wrong: [] } });
  }
  return store.put("waiting", { ...row, state: "waiting" });
}

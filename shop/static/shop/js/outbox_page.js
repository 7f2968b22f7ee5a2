// The outbox as a person sees it: forms that go through it (data-outbox = what the entry is), the panel that says what
// became of each entry, and the service worker behind the pages. Without script all of these forms are plain forms.

import { clock, forgetDraft, keepAsDraft } from "./draft.js";

const { outbox } = self;
const user = document.body.dataset.user ?? "";
const RETRY_MS = 60_000;

export function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

// --- The form ------------------------------------------------------------------------------------------------------

function fieldsOf(form, submitter) {
  const fields = [...new FormData(form, submitter)].filter(([name, value]) => name !== "csrfmiddlewaretoken" && typeof value === "string");
  const value = (wanted) => fields.find(([name]) => name === wanted)?.[1];
  const id = (submitter?.name === "as_new" ? value("new_client_id") : value("client_id")) || newId();
  const other = fields.filter(([name]) => !["client_id", "new_client_id", "as_new", "written_at", "sent_at"].includes(name));
  return { id, fields: [...other, ["client_id", id], ["new_client_id", newId()]] };
}

async function itemOf(form, submitter) {
  const { id, fields } = fieldsOf(form, submitter);
  // Mended later, it was still written down when it was sent for the first time.
  const before = await outbox.get(user, id).catch(() => null);
  const writtenAt = before?.writtenAt ?? new Date().toISOString();
  fields.push(["written_at", writtenAt]);
  const when = ["local_date", "local_time"].map((name) => form.elements[name]?.value).filter(Boolean).join(" ");
  return { user, id, writtenAt, stamp: newId(), fields, url: form.getAttribute("action") || location.pathname, about: form.dataset.outbox, when, draft: form.dataset.draft };
}

// As if the form had been sent without script: the shop's own page then shows what it asks.
async function openAtTheShop(item) {
  const form = Object.assign(document.createElement("form"), { method: "post", action: item.url, hidden: true });
  const more = [["csrfmiddlewaretoken", await outbox.token()], ["sent_at", new Date().toISOString()]];
  for (const [name, value] of [...item.fields, ...more]) form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
  document.body.append(form);
  form.submit();
}

async function sendForm(form, submitter) {
  const before = form.elements.client_id?.value;
  const item = await itemOf(form, submitter);
  try {
    await outbox.put(item);
  } catch {
    openAtTheShop(item); // the browser keeps nothing (private window, full disk): then it goes at once or not at all
    return;
  }
  navigator.storage?.persist?.(); // or a browser short of room may throw it away
  if (before && before !== item.id) await outbox.remove(user, before);
  forgetDraft(form.dataset.draft);
  navigator.serviceWorker?.ready.then((worker) => worker.sync?.register("outbox")).catch(() => {});
  await outbox.flush();
  const now = await outbox.get(user, item.id);
  if (now?.state === "received") location.assign(now.page);
  else if (now?.state === "asks") openAtTheShop(now);
  else leave(form);
}

// It waits: the form has done its part, and the panel has the word.
function leave(form) {
  form.hidden = true;
  const panel = document.querySelector("[data-outbox-panel]");
  panel.querySelector("[data-outbox-next]").hidden = false;
  panel.scrollIntoView({ block: "start" });
  panel.querySelector("h2").focus();
}

// A page that was kept, or one whose entry is in the outbox already, must not give its identifier to a second entry.
async function freshen(form) {
  const id = form.elements.client_id;
  const refused = form.querySelector('[data-summary], [aria-invalid="true"]');
  if (!id || refused || form.dataset.drafted !== undefined) return;
  const known = await outbox.get(user, id.value).catch(() => null);
  if (known || document.body.dataset.kept) id.value = newId();
  if (document.body.dataset.kept) setNow(form);
  armClock(form);
}

// The time that the form starts with is the moment of the first answer, not the moment the page was opened or kept.
function armClock(form) {
  const opened = Date.now();
  const names = ["local_date", "local_time"];
  form.addEventListener(
    "input",
    (event) => {
      if (!names.includes(event.target.name) && Date.now() - opened > 300_000) setNow(form);
    },
    { once: true },
  );
}

function setNow(form) {
  const zone = form.dataset.zone;
  if (!zone || !form.elements.local_date) return;
  const parts = new Intl.DateTimeFormat("en-CA", { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).formatToParts(new Date());
  const part = Object.fromEntries(parts.map(({ type, value }) => [type, value]));
  form.elements.local_date.value = `${part.year}-${part.month}-${part.day}`;
  form.elements.local_time.value = `${part.hour}:${part.minute}`;
}

function armForms() {
  for (const form of document.querySelectorAll("form[data-outbox]")) {
    freshen(form);
    form.addEventListener("submit", (event) => {
      if (event.defaultPrevented) return;
      const { submitter } = event;
      if (submitter?.name && submitter.name !== "as_new") return; // a question to the shop, not an entry
      event.preventDefault();
      sendForm(form, submitter);
    });
  }
}

// --- The panel -----------------------------------------------------------------------------------------------------

const element = (tag, more) => Object.assign(document.createElement(tag), more);

function armPanel(panel) {
  const words = panel.querySelector("template").content;
  const list = panel.querySelector("[data-outbox-list]");
  const status = panel.querySelector("[data-outbox-status]");
  const say = (name, values = {}) => words.querySelector(`[data-say="${name}"]`).textContent.replace(/\{(\w+)\}/g, (_, key) => values[key] ?? "");
  const button = (name, act, main) => {
    const made = element("button", { type: "button", textContent: say(name), className: main ? "button--main" : "" });
    made.addEventListener("click", act);
    return made;
  };

  function throwAway(item) {
    const box = element("details", { className: "outbox__away" });
    box.append(element("summary", { textContent: say("away") }), element("p", { textContent: say("away-sure") }), button("away-yes", () => outbox.remove(item.user, item.id)));
    return box;
  }

  async function change(item) {
    keepAsDraft(item.draft, item.fields, item.writtenAt);
    await outbox.remove(item.user, item.id);
    location.assign(item.url);
  }

  const answer = (item) => (navigator.onLine ? openAtTheShop(item) : change(item));

  function line(item) {
    const made = element("li", { className: `outbox__item outbox__item--${item.state}` });
    const about = element("div");
    about.append(element("b", { textContent: [item.about, item.when].filter(Boolean).join(", ") }));
    const said = item.state === "received" ? item.said : say(item.state, { at: clock(item.writtenAt, panel.dataset.zone) });
    about.append(element("p", { textContent: said }));
    const more = item.state === "asks" ? item.asks : (item.more ?? []);
    if (item.state === "asks" || item.state === "received")
      about.append(...(more.length ? [element("ul")] : []).map((ul) => (ul.append(...more.map((text) => element("li", { textContent: text }))), ul)));
    made.append(about);
    if (item.state === "received") made.append(element("a", { href: item.page, textContent: say("meaning"), className: "button" }));
    if (item.state === "signin") made.append(element("a", { href: panel.dataset.signIn, textContent: say("sign-in"), className: "button button--main" }));
    if (item.state === "asks") made.append(button("answer", () => answer(item), true));
    if (item.state === "waiting" || item.state === "signin") made.append(button("change", () => change(item)));
    if (item.state !== "received") made.append(throwAway(item));
    else made.append(button("done", () => outbox.remove(item.user, item.id)));
    return made;
  }

  // What stands in the form of this page needs no line of its own.
  const shown = () => document.querySelector("form[data-outbox]:not([hidden]):has([data-summary]) [name=client_id]")?.value;

  let last = "";
  async function draw() {
    const items = (await outbox.of(user)).filter((item) => item.id !== shown());
    const waiting = items.filter(outbox.isWaiting).length;
    const now = JSON.stringify(items);
    if (now === last) return;
    last = now;
    panel.hidden = !items.length;
    list.replaceChildren(...items.map(line));
    status.textContent = items.length ? say(waiting === 0 ? "none-waits" : waiting === 1 ? "one-waits" : "some-wait", { count: waiting }) : "";
  }

  outbox.watch(draw);
  return draw();
}

// --- Signed out ----------------------------------------------------------------------------------------------------

// Nobody's entries are shown to nobody in particular, but that there are some is said.
async function nameWhatIsLeft(place) {
  const count = await outbox.countWaiting();
  place.hidden = !count;
  place.textContent = (count === 1 ? place.dataset.one : place.dataset.some).replace("{count}", count);
}

// --- Beginning -----------------------------------------------------------------------------------------------------

async function takenIn() {
  for (const mark of document.querySelectorAll('meta[name="outbox-received"]')) {
    const { id, said } = mark.dataset;
    const item = await outbox.get(user, id);
    if (item) await outbox.mark(item, { state: "received", said, page: location.pathname + location.search, more: [] });
  }
}

function keepPages() {
  const address = document.querySelector("[data-outbox-panel]")?.dataset.worker;
  if (!user || !navigator.serviceWorker || !address) return;
  navigator.serviceWorker.register(address).catch(() => {}); // an address without HTTPS has none
  const anew = document.querySelector('meta[name="outbox-received"]') !== null;
  const links = [...document.querySelectorAll("a[data-keep]")].map((link) => link.pathname + link.search);
  if (document.body.dataset.kept) return;
  navigator.serviceWorker.ready.then((worker) => worker.active?.postMessage({ keep: [location.pathname + location.search, ...links], anew }));
}

function sayKept() {
  const { kept } = document.body.dataset;
  for (const place of document.querySelectorAll("[data-kept-line]")) {
    place.hidden = !kept;
    if (kept) place.textContent = place.dataset.say.replace("{at}", clock(kept, place.dataset.zone));
  }
}

async function start() {
  sayKept();
  keepPages();
  const left = document.querySelector("[data-outbox-left]");
  if (left) await nameWhatIsLeft(left);
  const panel = document.querySelector("[data-outbox-panel]");
  if (!user || !panel) return;
  armForms();
  await takenIn();
  await armPanel(panel);
  const again = () => outbox.flush().catch(() => {});
  addEventListener("online", again);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && again());
  setInterval(again, RETRY_MS);
  await again();
}

start().catch(() => {}); // a browser that keeps nothing: every form is a plain form then

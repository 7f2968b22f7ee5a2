// What is typed into a form that carries data-draft="name" is kept on this device until the shop has it.
// A draft belongs to one user and one form. It holds no passwords and no security token, and is cleared by the page
// that acknowledges the entry: <meta name="draft-done" content="name">.

const user = document.body.dataset.user || "nobody";
const keyOf = (name) => `run-in-book:draft:${user}:${name}`;
const DROPPED = new Set(["csrfmiddlewaretoken", "password"]);

// A device may refuse to store anything (private mode, full): then there is no draft, and the form works all the same.
function store(action, ...rest) {
  try {
    return localStorage[action](...rest);
  } catch {
    return null;
  }
}

function typed(form) {
  const values = {};
  for (const [name, value] of new FormData(form)) {
    if (DROPPED.has(name) || typeof value !== "string") continue;
    (values[name] ??= []).push(value);
  }
  return values;
}

function fill(form, values) {
  const at = {};
  for (const control of form.elements) {
    if (!control.name || DROPPED.has(control.name) || control.type === "file") continue;
    const kept = values[control.name] ?? [];
    if (control.type === "radio" || control.type === "checkbox") {
      control.checked = kept.includes(control.value);
    } else if (control.type !== "submit" && control.type !== "button") {
      const place = (at[control.name] = (at[control.name] ?? -1) + 1);
      if (kept[place] !== undefined) control.value = kept[place];
    }
    control.dispatchEvent(new Event("change", { bubbles: true }));
  }
}

// In the language of the page, the day before the month.
const spoken = (document.documentElement.lang || "en").replace(/^en$/, "en-GB");
export const clock = (moment, timeZone) =>
  new Date(moment).toLocaleString(spoken, { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone });

function tell(form, at, undo) {
  const line = form.querySelector("[data-draft-line]") ?? document.querySelector("[data-draft-line]");
  if (!line) return;
  const text = line.dataset.keptUntil.replace("{at}", clock(at));
  line.replaceChildren(Object.assign(document.createElement("p"), { textContent: text }));
  if (undo) {
    const button = Object.assign(document.createElement("button"), { type: "button", textContent: line.dataset.startEmpty, className: "button--text" });
    button.addEventListener("click", undo);
    line.append(button);
  }
  line.hidden = false;
}

// The outbox has it now, or gives it back to be changed.
export const forgetDraft = (name) => store("removeItem", keyOf(name));

export function keepAsDraft(name, fields, at) {
  const values = {};
  for (const [field, value] of fields) (values[field] ??= []).push(value);
  store("setItem", keyOf(name), JSON.stringify({ at: Date.parse(at), values }));
}

function keep(form) {
  const key = keyOf(form.dataset.draft);
  let waiting = 0;
  let cleared = false;
  const save = () => {
    clearTimeout(waiting);
    waiting = 0;
    if (!cleared) store("setItem", key, JSON.stringify({ at: Date.now(), values: typed(form) }));
  };
  form.addEventListener("input", () => {
    cleared = false;
    clearTimeout(waiting);
    waiting = setTimeout(save, 250);
  });
  addEventListener("pagehide", () => waiting && save());
  form.addEventListener("submit", save);

  // After a refusal the page already holds what was typed, with the reasons beside it: that is newer than the draft.
  if (form.querySelector('[data-summary], [aria-invalid="true"]')) return;
  const draft = JSON.parse(store("getItem", key) ?? "null");
  if (!draft) return;
  fill(form, draft.values);
  form.dataset.drafted = "";
  tell(form, draft.at, () => {
    cleared = true;
    clearTimeout(waiting);
    store("removeItem", key);
    location.reload();
  });
}

export function drafts(root) {
  root.querySelectorAll('meta[name="draft-done"]').forEach((mark) => store("removeItem", keyOf(mark.content)));
  root.querySelectorAll("form[data-draft]:not([data-kept])").forEach((form) => {
    form.dataset.kept = "";
    keep(form);
  });
}

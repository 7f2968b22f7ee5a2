// "Add a block" without a round trip. Without script the same button asks the server for one more row.

const MOST = 12;

function renumber(text, from, to) {
  return text.replace(new RegExp(`(-b)${from}(-|$)`), `$1${to}$2`);
}

function fresh(last, from, to) {
  const made = last.cloneNode(true);
  for (const element of made.querySelectorAll("*")) {
    for (const name of ["id", "for", "name", "aria-describedby"]) {
      const value = element.getAttribute(name);
      if (value) element.setAttribute(name, renumber(value, from, to));
    }
    element.removeAttribute("aria-invalid");
  }
  made.querySelectorAll(".errors, .sure").forEach((part) => part.remove());
  made.querySelectorAll(".field--bad").forEach((part) => part.classList.remove("field--bad"));
  made.querySelectorAll("input").forEach((input) => (input.value = ""));
  made.querySelector("[data-block-number]").textContent = String(to + 1);
  return made;
}

function add(box) {
  const rows = box.querySelectorAll("[data-block]");
  if (rows.length >= MOST) return null;
  const made = fresh(rows[rows.length - 1], rows.length - 1, rows.length);
  box.querySelector("[data-add-block]").before(made);
  box.querySelector("[data-block-count]").value = String(rows.length + 1);
  return made;
}

// A draft that was filled in again brings the number of rows back, but not the rows beyond those of the page.
function mend(box, form) {
  const count = Number.parseInt(box.querySelector("[data-block-count]").value, 10) || 0;
  const key = `run-in-book:draft:${document.body.dataset.user || "nobody"}:${form.dataset.draft}`;
  let kept = null;
  try {
    kept = JSON.parse(localStorage.getItem(key))?.values;
  } catch {
    return;
  }
  while (kept && box.querySelectorAll("[data-block]").length < count) {
    const made = add(box);
    if (!made) return;
    made.querySelectorAll("input, select").forEach((field) => (field.value = kept[field.name]?.[0] ?? field.value));
  }
}

for (const button of document.querySelectorAll("[data-add-block]")) {
  button.addEventListener("click", (event) => {
    event.preventDefault();
    add(button.closest(".blocks"))?.querySelector("input")?.focus();
  });
  mend(button.closest(".blocks"), button.form);
}

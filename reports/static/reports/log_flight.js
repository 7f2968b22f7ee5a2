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

for (const button of document.querySelectorAll("[data-add-block]")) {
  button.addEventListener("click", (event) => {
    event.preventDefault();
    const box = button.closest(".blocks");
    const rows = box.querySelectorAll("[data-block]");
    if (rows.length >= MOST) return;
    const made = fresh(rows[rows.length - 1], rows.length - 1, rows.length);
    button.before(made);
    box.querySelector("[data-block-count]").value = String(rows.length + 1);
    made.querySelector("input")?.focus();
  });
}

// Two buttons beside a number field. Without script the field is typed into, and the typed text is always what counts.

const read = (text) => Number.parseFloat(String(text).replace(",", "."));
// The mark of the language of the page, for a field that is still empty.
const COMMA = (0.5).toLocaleString(globalThis.document?.documentElement.lang || "en").includes(",");
const decimals = (step) => (String(step).split(".")[1] || "").length;

export function stepped(value, step, direction, { low = NaN, high = NaN, start = NaN } = {}) {
  if (Number.isNaN(value)) return Number.isNaN(start) ? (Number.isNaN(low) ? 0 : low) : start;
  // Onto the next multiple of the step, so that 8.1 goes to 8.25 and not to 8.35.
  const count = direction > 0 ? Math.floor(value / step + 1e-9) + 1 : Math.ceil(value / step - 1e-9) - 1;
  let next = count * step;
  if (!Number.isNaN(low)) next = Math.max(low, next);
  if (!Number.isNaN(high)) next = Math.min(high, next);
  return next;
}

function button(sign, says, onTap) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "stepper__by";
  made.textContent = sign;
  made.setAttribute("aria-label", says);
  made.addEventListener("click", onTap);
  return made;
}

function arm(box) {
  const input = box.querySelector("input");
  if (!input || box.classList.contains("is-live")) return;
  const step = read(box.dataset.step) || 1;
  const limits = { low: read(box.dataset.low), high: read(box.dataset.high), start: read(box.dataset.start) };
  const label = document.querySelector(`label[for="${input.id}"]`)?.textContent.trim() ?? "";
  const comma = () => (input.value ? input.value.includes(",") : COMMA);
  const move = (direction) => {
    const withComma = comma();
    const text = stepped(read(input.value), step, direction, limits).toFixed(decimals(box.dataset.step));
    input.value = withComma ? text.replace(".", ",") : text;
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
  };
  input.before(button("−", `${box.dataset.less}: ${label}`, () => move(-1)));
  input.after(button("+", `${box.dataset.more}: ${label}`, () => move(1)));
  box.classList.add("is-live");
}

export function steppers(root) {
  root.querySelectorAll("[data-stepper]").forEach(arm);
}

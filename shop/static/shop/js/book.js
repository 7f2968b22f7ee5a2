// The one script of every page. Each part finds its own elements and does nothing where there are none.
import { steppers } from "./stepper.js";
import { drafts } from "./draft.js";
import { guardSubmit, focusSummary, demoLogins } from "./form.js";
import { plots } from "./plot.js";

function start(root) {
  steppers(root);
  drafts(root);
  guardSubmit(root);
  focusSummary(root);
  demoLogins(root);
  plots(root);
}

start(document);
document.addEventListener("htmx:load", (event) => start(event.target));

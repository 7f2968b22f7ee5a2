// Small helps around a form. The server stays the authority: it knows a repeated entry by its client_id.

export function guardSubmit(root) {
  root.querySelectorAll('form[method="post"]:not([data-guarded])').forEach((form) => {
    form.dataset.guarded = "";
    form.addEventListener("submit", (event) => {
      if (form.dataset.sending !== undefined) {
        event.preventDefault();
        return;
      }
      form.dataset.sending = "";
      const pressed = event.submitter;
      // Disabled only after the browser has collected the fields, or the pressed button's own value would be lost.
      setTimeout(() => pressed?.setAttribute("aria-disabled", "true"));
      setTimeout(() => release(form), 15000);
    });
  });
}

function release(form) {
  delete form.dataset.sending;
  form.querySelectorAll('[aria-disabled="true"]').forEach((button) => button.removeAttribute("aria-disabled"));
}

// Coming back to a page by the back button must not leave its form dead.
addEventListener("pageshow", () => document.querySelectorAll("form[data-sending]").forEach(release));

export function focusSummary(root) {
  root.querySelector("[data-summary]")?.focus();
}

export function demoLogins(root) {
  root.querySelectorAll("[data-login-email]").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", () => {
      document.querySelector('input[name="login"]').value = button.dataset.loginEmail;
      const password = document.querySelector('input[name="password"]');
      password.value = button.dataset.loginPassword;
      password.form.requestSubmit();
    });
  });
}

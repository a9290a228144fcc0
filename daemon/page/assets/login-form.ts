import { logIn } from "./daemon-answers.js";
import { el, labelled, put } from "./dom.js";
import type { Texts } from "./texts.en.js";

/** Asks for the token until it is right. */
export function loginForm({ login: words, failed }: Texts, onLoggedIn: () => void): HTMLElement {
  const token = el("input", {
    type: "password",
    autocomplete: "current-password",
    required: true,
    name: "token",
  });
  const said = el("p", { role: "alert" });
  const form = el(
    "form",
    { class: "stack login" },
    el("p", {}, words.why),
    labelled(words.token, token),
    el("button", { type: "submit", class: "main" }, words.enter),
    said,
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    logIn(token.value).then(onLoggedIn, (error: unknown) => {
      put(said, failed(error instanceof Error ? error.message : String(error)));
      token.focus();
    });
  });
  return form;
}

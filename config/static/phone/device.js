// This phone: its card, a new code, and forgetting all of it.

import { codeOf } from "./card.js";
import { button, h, heading, t } from "./dom.js";

export function deviceScreen(app) {
  const { card } = app;
  return h("div", {},
    heading(1, t("this_phone")),
    h("section", { class: "card" },
      h("p", {}, card.link ? t("link_here", { name: card.name, site: card.field?.site || "" }) : t("link_missing")),
      card.trouble ? h("p", { class: "note" }, t(card.trouble)) : null,
      button(t(card.link ? "other_code" : "enter_code"), () => app.show({ screen: "code" }), "quiet"),
      h("p", { class: "quiet-text" }, t("history_left"))),
    h("section", { class: "card" },
      h("h2", {}, t("forget")),
      h("p", {}, t("forget_what")),
      forgetButton(app)),
    h("div", { class: "actions" }, button(t("to_start"), () => app.show({ screen: "home" }), "quiet")));
}

// Asked twice, for what was typed and not sent goes too.
function forgetButton(app) {
  const box = h("div", { class: "actions" });
  const ask = button(t("forget"), () => {
    box.replaceChildren(
      button(t("forget_yes"), async () => {
        await app.forget();
        app.show({ screen: "home", note: "forgotten" });
      }, "danger"),
      button(t("forget_no"), () => box.replaceChildren(ask), "quiet"));
    box.firstChild.focus();
  }, "danger");
  box.append(ask);
  return box;
}

// The code of a team card, typed. With a report that waits for it: who is sending, or nobody.
export function codeScreen(app, record) {
  const problem = h("p", { class: "note", role: "alert", id: "code-problem", hidden: true });
  const input = h("input", {
    id: "code", type: "text", autocomplete: "off", autocapitalize: "characters", spellcheck: "false", "aria-describedby": "code-hint code-problem",
  });
  const use = async () => {
    const code = codeOf(input.value);
    if (!code) {
      problem.textContent = t("code_wrong");
      problem.hidden = false;
      input.focus();
      return;
    }
    await app.useCode(code, record);
    if (record) await app.sendReport(record);
    else if (app.nameless) app.open(app.nameless);
    else app.show({ screen: "home" });
  };
  const nameless = () => app.sendReport(record);
  return h("section", { class: "card" },
    heading(1, t(record ? "code_to_send" : "enter_code")),
    h("label", { for: "code" }, t("code_label")),
    h("p", { id: "code-hint", class: "quiet-text" }, t("code_hint")),
    problem, input,
    h("div", { class: "actions" }, button(t(record ? "send" : "use_code"), use), record ? button(t("send_nameless"), nameless, "quiet") : null),
    record ? h("p", { class: "quiet-text" }, t("nameless_hint")) : null);
}

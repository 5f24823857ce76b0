// After the report: where it is, and where to go now.

import { button, forWhom, h, heading, t } from "./dom.js";
import { wantsClinic } from "./questions.js";

export function sentCard(app, record) {
  const row = app.outboxRows.find(({ id }) => id === `report:${record.about}`);
  const card = h("section", { class: "card", "aria-labelledby": "question" });
  const title = heading(2, t(row?.state === "sent" ? "arrived" : row?.state === "refused" ? "refused_title" : "waits"));
  title.id = "question";
  card.append(title, h("p", { role: "status" }, `${stateWords(row)} ${forWhom(record)}`.trim()));
  if (wantsClinic(record.answers)) {
    card.append(h("p", {}, t("clinic_now")), button(t("clinics"), () => app.show({ screen: "clinics", about: record.about })));
  }
  card.append(h("div", { class: "actions" }, button(t("to_start"), () => app.show({ screen: "home" }), "quiet")));
  return card;
}

export function stateWords(row) {
  if (!row || row.state === "waiting") return row?.said ? t("waits_busy", { code: row.said }) : t("waits_network");
  if (row.state === "refused") return t("refused", { code: row.said, message: row.message });
  return row.reference ? t("has_reference", { reference: row.reference }) : t("has_arrived");
}

// The first screen: the start button stands in the page itself; this fills in what the phone knows.

import { running } from "./clock.js";
import { button, clock, h, t } from "./dom.js";
import { stateWords } from "./sent.js";

export function homeParts(app) {
  return [
    app.store.full ? h("p", { class: "note", role: "alert" }, t("store_full")) : null,
    app.kept.unreadable ? h("p", { class: "note" }, t("unreadable")) : null,
    openIncidents(app),
    h("div", { class: "actions" },
      button(t("report_only"), async () => app.open(await app.records.begin({ clock: false, link: app.card.link })), "quiet"),
      button(t("clinics"), () => app.show({ screen: "clinics" }), "quiet"),
      button(t("crew"), () => app.show({ screen: "crew" }), "quiet"),
      button(t("this_phone"), () => app.show({ screen: "device" }), "quiet")),
    linkLine(app),
    outboxList(app),
    limits(app),
  ].filter(Boolean);
}

function openIncidents(app) {
  const open = app.records.list.filter((record) => !record.sent || running(record.spells));
  if (!open.length) return null;
  return h("section", { class: "card" }, h("h2", {}, t("open_here")), open.map((record) => {
    const time = clock(record.begun_at, app.card.zone);
    const words = running(record.spells) ? "open_clock" : record.spells.length ? "open_washed" : "open_report";
    return button(t(words, { time }), () => app.open(record), running(record.spells) ? "big" : "option");
  }));
}

function linkLine(app) {
  if (!app.canKeep) return h("p", { class: "note" }, t("no_sealing"));
  if (app.card.trouble) return h("p", { class: "note" }, t(app.card.trouble));
  if (app.card.link) return h("p", { class: "quiet-text" }, t("link_here", { name: app.card.name, site: app.card.field?.site || "" }));
  return h("p", { class: "note" }, t("link_missing"), " ", button(t("enter_code"), () => app.show({ screen: "code" }), "quiet"));
}

// Reports by time and state, and by name whatever else the service didn't take; never what they say.
export function outboxList(app) {
  const rows = app.outboxRows.filter(({ kind, part, state }) => (kind === "report" && !part) || state === "refused");
  const drafts = app.outboxRows.filter(({ part, state }) => part && state === "waiting").length;
  if (!rows.length && !drafts) return null;
  return h("section", { class: "card" }, h("h2", {}, t("outbox")),
    h("ul", { class: "outbox" }, rows.map((row) =>
      h("li", { "data-state": row.state }, h("strong", {}, clock(row.made_at, app.card.zone)), ` ${whatOf(row)}${stateWords(row)} `,
        row.state === "refused" ? button(t("try_again"), () => app.outbox.again(row.id), "quiet") : null))),
    drafts ? h("p", { class: "quiet-text" }, t("draft_waits")) : null);
}

const whatOf = ({ kind, part }) => (kind === "report" && !part ? "" : `${t(`part_${part ? "draft" : kind}`)}: `);

function limits(app) {
  const sentences = [
    app.store.kind === "memory" ? "limit_memory" : app.persisted ? null : "limit_evicted",
    app.wakes ? "limit_sync" : "limit_open",
    "limit_sound",
  ].filter(Boolean);
  return h("details", { open: app.store.kind === "memory" }, h("summary", {}, t("limits")), sentences.map((code) => h("p", {}, t(code))),
    app.size ? h("p", {}, t("kept_size", { size: kilobytes(app.size) })) : null);
}

export const kilobytes = (bytes) => `${Math.max(1, Math.round(bytes / 1000))} kB`;

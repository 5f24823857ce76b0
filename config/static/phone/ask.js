// One question a screen: a tap answers and goes on, the browser's back button goes back, nothing must be answered.

import { button, choices, h, heading, t } from "./dom.js";
import { openQuestion, questionsOf, standsAlone, takesMany } from "./questions.js";
import { sentCard } from "./sent.js";

const TYPED_PAUSE_MS = 400;

const questionsFor = (app, { answers, spells }) =>
  questionsOf(answers, { crew: app.crew.people.length > 0 || answers.who !== undefined, clockUsed: spells.length > 0 });

export const questionOpen = (app, record) => openQuestion(questionsFor(app, record), record.answers);

export function questionCard(app, record) {
  if (!app.canKeep) return plainCard();
  if (record.sent) return sentCard(app, record);
  const questions = questionsFor(app, record);
  const at = Math.min(app.place.question ?? questionOpen(app, record), questions.length - 1);
  const question = questions[at];
  const card = h("section", { class: "card question", "aria-labelledby": "question" });
  const title = heading(2, t(`q_${question}`));
  title.id = "question";
  card.append(h("p", { class: "progress" }, t("progress", { n: at + 1, of: record.answers.kind ? questions.length : "…" })), title);
  const on = () => app.show({ screen: "incident", about: record.about, question: at + 1 });
  card.append(...(question === "say" ? lastQuestion(app, record) : options(app, record, question, on)));
  if (at > 0) card.append(button(t("back"), () => app.back({ screen: "incident", about: record.about, question: at - 1 }), "quiet back"));
  return card;
}

function plainCard() {
  return h("section", { class: "card" }, h("h2", {}, t("report")), h("p", {}, t("no_sealing")),
    h("a", { class: "button", href: "/report/" }, t("plain_form")));
}

function optionsOf(app, question) {
  if (question === "who") return [["", t("me")], ...app.crew.people.map(({ id, name }) => [String(id), name])];
  return choices[question];
}

function options(app, record, question, on) {
  const answered = record.answers[question];
  const several = takesMany(question);
  const chosen = new Set(several ? answered || [] : []);
  let many = chosen.size > 1;
  const take = (value) => {
    app.records.answer(record, given(app, record, question, several ? [...(many ? chosen : [value])] : value));
    on();
  };
  const tap = (value, element) => {
    if (!many || standsAlone(value)) {
      chosen.clear();
      many = false;
      return take(value);
    }
    element.setAttribute("aria-pressed", String(chosen.has(value) ? !chosen.delete(value) : Boolean(chosen.add(value))));
    return null;
  };
  const isOn = (value) => (several ? chosen.has(value) : answered === value);
  const list = optionsOf(app, question).map(([value, text]) =>
    // The second tap of a double tap must not answer the question after.
    button(text, (event) => event.detail < 2 && tap(value, event.currentTarget), "option", { "data-value": value, "aria-pressed": String(isOn(value)) }));
  return [h("div", { class: "options", "data-crew": question === "who" }, list), several ? manyButtons(many, () => (many = true), take) : null].filter(Boolean);
}

// One tap is the usual answer; whoever needs several says so first.
function manyButtons(many, begin, take) {
  const next = button(t("next"), () => take(null), "", { hidden: !many });
  const more = button(t("more_than_one"), () => {
    begin();
    [more.hidden, next.hidden] = [true, false];
    next.closest(".question").querySelector(".option").focus();
  }, "quiet", { hidden: many });
  return h("div", { class: "actions" }, more, next);
}

function given(app, record, question, value) {
  const answers = { ...record.answers, [question]: value };
  if (question !== "who") return { answers };
  const person = app.crew.people.find(({ id }) => String(id) === value);
  return { answers, person: person?.id ?? null, person_name: person?.name || "" };
}

function lastQuestion(app, record) {
  let timer = 0;
  const keep = () => app.records.answer(record, { answers: { ...record.answers, say: typed.value } });
  const typed = h("textarea", {
    "aria-labelledby": "question", rows: "4", autocomplete: "off", spellcheck: "false",
    oninput: () => {
      clearTimeout(timer);
      timer = setTimeout(keep, TYPED_PAUSE_MS);
    },
  });
  typed.value = record.answers.say || "";
  const send = button(t("send"), async () => {
    clearTimeout(timer);
    await keep();
    if (record.link || app.card.link) await app.sendReport(record);
    else app.show({ screen: "code", about: record.about });
  }, "big", { "data-send": true });
  return [typed, h("p", { class: "quiet-text" }, t("say_hint")), h("div", { class: "actions" }, placeButton(app, record)), earlier(app, record), send];
}

function placeButton(app, record) {
  const state = h("span", { role: "status" }, record.place ? t("place_added", { metres: Math.round(record.place.accuracy_m) }) : "");
  const ask = () => {
    state.textContent = t("place_asking");
    app.locate().then(
      async (place) => {
        await app.records.answer(record, { place });
        state.textContent = t("place_added", { metres: Math.round(place.accuracy_m) });
      },
      () => (state.textContent = t("place_refused")),
    );
  };
  return [button(t("add_place"), ask, "quiet", { "data-place": true }), state];
}

const local = (instant) => {
  const two = (n) => String(n).padStart(2, "0");
  const at = new Date(instant);
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}T${two(at.getHours())}:${two(at.getMinutes())}`;
};

function earlier(app, record) {
  const input = h("input", {
    type: "datetime-local", id: "happened", autocomplete: "off", value: local(record.happened_at), max: local(Date.now()),
    onchange: () => {
      const instant = new Date(input.value).getTime();
      if (Number.isFinite(instant)) app.records.answer(record, { happened_at: instant });
    },
  });
  return h("details", {}, h("summary", {}, t("earlier")), h("label", { for: "happened" }, t("when")), input);
}

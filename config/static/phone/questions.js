// Which question comes when, and what the answers make of a report. The words and the choices come from the service.

// After "kind": what is asked of each kind of incident. "say" is the one that is typed, and optional.
const CONTACT = ["site", "skin", "animal", "signs", "watched", "task", "causes", "others", "say"];
const FLOWS = {
  bite: CONTACT,
  scratch: CONTACT,
  lick: CONTACT.map((question) => (question === "skin" ? "licked" : question)),
  splash: ["animal", "signs", "watched", "task", "causes", "others", "say"],
  needlestick: ["site", "task", "causes", "others", "say"],
  "near-miss": ["task", "causes", "others", "say"],
  road: ["causes", "others", "say"],
  other: CONTACT,
};
const MANY = new Set(["site", "signs", "causes"]);
// Answers that stand alone, whatever else was tapped.
const ALONE = new Set(["unknown", "none-seen"]);
const WITHOUT_WASHING = new Set(["near-miss", "road"]);

const UNKNOWN_SKIN = { broke_skin: "unknown", bled: "unknown", deep: "unknown" };
// Only what the tapped words say; what they leave open stays unknown.
const SKIN = {
  whole: { broke_skin: "no", bled: "no", deep: "no" },
  broken: { broke_skin: "yes", bled: "no", deep: "unknown" },
  bled: { broke_skin: "yes", bled: "yes", deep: "unknown" },
  deep: { broke_skin: "yes", bled: "unknown", deep: "yes" },
  unknown: UNKNOWN_SKIN,
};
const CONTACTS = { bite: "bitten", scratch: "scratched", splash: "splashed-eye-nose-mouth", needlestick: "needlestick" };
// One tap on the animal says what it is and whether it wore a collar.
const ANIMALS = {
  "dog-owned": ["dog-owned", "unknown"],
  "dog-roaming-collar": ["dog-roaming", "yes"],
  "dog-roaming-bare": ["dog-roaming", "no"],
  "dog-roaming": ["dog-roaming", "unknown"],
};
const WATCHED = {
  owner: { can_be_watched: "yes", owner_known: "yes" },
  place: { can_be_watched: "yes", owner_known: "no" },
  "owner-gone": { can_be_watched: "no", owner_known: "yes" },
  gone: { can_be_watched: "no", owner_known: "no" },
  unknown: { can_be_watched: "unknown", owner_known: "unknown" },
};
// Minutes said afterwards by somebody who used no clock.
const MINUTES = { "about-5": 5, "about-10": 10, "about-15": 15 };

export const takesMany = (question) => MANY.has(question);
export const standsAlone = (value) => ALONE.has(value);

// The questions of a report in order. `crew`: the phone knows people one may report for.
export function questionsOf(answers, { crew = false, clockUsed = false } = {}) {
  const flow = FLOWS[answers.kind] || CONTACT;
  const washing = clockUsed || WITHOUT_WASHING.has(answers.kind) ? [] : ["washed"];
  return [...(crew ? ["who"] : []), "kind", ...washing, ...flow];
}

// The first that has no answer yet, or the last.
export function openQuestion(questions, answers) {
  const open = questions.findIndex((question) => answers[question] === undefined);
  return open < 0 ? questions.length - 1 : open;
}

function contactOf(answers) {
  if (answers.kind === "lick") {
    return { whole: "licked-intact-skin", broken: "licked-broken-skin", face: "splashed-eye-nose-mouth" }[answers.licked] || "unknown";
  }
  return CONTACTS[answers.kind] || "unknown";
}

function woundsOf(answers) {
  if (!answers.kind || WITHOUT_WASHING.has(answers.kind)) return [];
  const skin = SKIN[answers.skin] || UNKNOWN_SKIN;
  const places = answers.kind === "splash" ? ["head-face-neck"] : answers.site?.length ? answers.site : ["unknown"];
  return places.map((body_site) => ({ contact: contactOf(answers), body_site, ...skin }));
}

function animalOf(answers) {
  const [animal, collar] = ANIMALS[answers.animal] || [answers.animal || "unknown", "unknown"];
  const watched = WATCHED[answers.watched] || WATCHED.unknown;
  return { animal, animal_facts: { collar, signs: answers.signs || [], ...watched } };
}

// Spells as instants: those of the clock, or the minutes that were said. Said minutes have no start of their own by
// which the service could know them again, so they go once: with the report, not with a draft that may yet change.
export function spellsOf(record, complete) {
  const minutes = complete && MINUTES[record.answers.washed];
  if (record.spells.length || !minutes) return record.spells;
  const said = { soap: "unknown", running_water: "unknown" };
  return [{ started_at: record.happened_at, stopped_at: record.happened_at + minutes * 60000, ...said }];
}

// The body of a "report" message, without its spells as text (clock.js writes them).
export function reportOf(record, complete) {
  const { answers } = record;
  return {
    person: record.person,
    kind: answers.kind || "other",
    happened_at: new Date(record.happened_at).toISOString(),
    wounds: woundsOf(answers),
    ...animalOf(answers),
    task: answers.task || "unknown",
    causes: answers.causes || [],
    others_hurt: answers.others || "unknown",
    narrative: answers.say || "",
    place: record.place,
    complete,
  };
}

// Whether it is a case for a clinic the same day. Unsure counts as yes.
export const wantsClinic = (answers) => !WITHOUT_WASHING.has(answers.kind);

const skinCategory = ({ contact, broke_skin, bled }) => {
  if (bled === "yes" || broke_skin === "yes") return 3;
  if (contact === "licked-intact-skin") return 1;
  return [bled, broke_skin].includes("unknown") ? 3 : 2;
};

// The category the service would suggest (safety/rules/case/category.py), null where it suggests none.
export function categoryOf(answers) {
  const wounds = woundsOf(answers);
  const of = (wound) => {
    if (wound.contact === "needlestick") return null;
    const surely = answers.animal === "bat" || !["bitten", "scratched", "licked-intact-skin"].includes(wound.contact);
    return surely ? 3 : skinCategory(wound);
  };
  return wounds.reduce((highest, wound) => Math.max(highest, of(wound) ?? 0), 0) || null;
}

// Whether a clinician may order immunoglobulin, by what is `known` of the record (safety/rules/case/exposed_person.py).
export function immunoglobulinWanted(answers, known) {
  const category = categoryOf(answers);
  if (!wantsClinic(answers) || category === 1 || known === "immunised") return false;
  return known !== "not-immunised" || category !== 2;
}

// What to tell the clinic first; codes of words. The clinician decides what it means.
// The service says the same (safety/rules/case/urgency.py); one table of cases holds both.
export function urgencyOf(answers) {
  const wounds = woundsOf(answers);
  const bat = answers.animal === "bat" && wounds.length > 0;
  const counted = wounds.filter(({ contact }) => bat || contact !== "licked-intact-skin");
  const at = (place) => counted.some(({ body_site }) => body_site === place);
  const found = {
    bat, "head-face-neck": at("head-face-neck"), hands: at("hand"), genitals: at("genitals"),
    deep: counted.some(({ deep }) => deep === "yes"), several: counted.length > 1,
  };
  return Object.keys(found).filter((code) => found[code]);
}

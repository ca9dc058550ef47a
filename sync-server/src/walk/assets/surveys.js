// Enrolling this browser, the list of surveys, and what to see to before going up.

import { clock, hexOf } from "./ids.js";
import * as keep from "./keep.js";
import * as office from "./office.js";
import { counts, open } from "./roof.js";
import { $, alarm, count, fill, make, say, view } from "./show.js";
import { now, tries } from "./state.js";

const usually = $("enrol-why").textContent;

export function showEnrol(why = usually) {
  $("enrol-why").textContent = why;
  $("stay").hidden = !now.device.token;
  view("enrol", "Enrol this phone");
}

export async function enrol() {
  alarm("");
  const ask = { code: $("code").value.trim(), device_name: $("device-name").value.trim() };
  const { token, author } = await spend(ask);
  now.device = { ...now.device, token, token_at: Date.now(), author, name: ask.device_name };
  office.showToken(token);
  await keep.setFact("device", now.device);
  $("code").value = "";
  await keep.holdFast();
  await look();
}

// The token as it is kept: another window of this page may have had it renewed.
export async function sameDevice() {
  now.device = (await keep.fact("device")) ?? {};
  office.showToken(now.device.token);
}

// After a month a fresh token takes over. It is kept before it is used; if it does not come the old
// one goes on, and the next exchange asks again.
const MONTH = 30 * 24 * 3600e3;
export async function renewToken() {
  if (Date.now() - (now.device.token_at ?? 0) < MONTH) return;
  try {
    const fresh = { ...now.device, token: await office.freshToken(), token_at: Date.now() };
    await keep.setFact("device", fresh);
    await sameDevice();
  } catch (error) {
    console.warn("the token was not renewed", error);
  }
}

async function spend(ask) {
  // The same name for good: a lost answer or a new code makes no second device of this phone.
  now.device.id ??= `web-${hexOf(crypto.getRandomValues(new Uint8Array(8)))}`;
  await keep.setFact("device", now.device);
  try {
    return await office.post("/v1/enrol", { ...ask, device_id: now.device.id });
  } catch (error) {
    if (error.kind === "unknown") {
      throw new office.Trouble("code", "This code is not good, or not any more: a code works once, within 15 \
minutes. Ask the office for a new one.");
    }
    if (error.status !== 409) throw error;
    // Enrolled for someone else before: that person's entries are theirs to send.
    if ((await keep.waiting()).length > 0) {
      throw new office.Trouble("other", `Entries of ${now.device.author} still wait on this phone, and only they can \
send them. Ask for a code for ${now.device.author} first.`);
    }
    now.device = {};
    return spend(ask);
  }
}

export async function anew() {
  if ((await keep.waiting()).length > 0) {
    alarm("Entries of this person still wait on this phone. Exchange or throw away all of them first.");
    return;
  }
  now.device = {};
  office.showToken(null);
  await keep.setFact("device", now.device);
  showEnrol();
}

// Asks which surveys there are.
export async function look() {
  alarm("");
  say("Asking the office");
  await sameDevice();
  const list = await office.get("/v1/surveys");
  const known = new Map((await keep.roofs()).map((card) => [card.survey_id, { ...card, gone: true }]));
  for (const { survey_id, name } of list) {
    known.set(survey_id, { units: [], hazards: [], ...known.get(survey_id), survey_id, name, gone: false });
  }
  for (const card of known.values()) await keep.setRoof(card);
  await showRoofs();
  say(`The office shows ${count(list.length, "survey")}.`);
}

export async function showRoofs() {
  now.survey = null;
  await keep.setFact("last", null);
  const [cards, entries] = [await keep.roofs(), await keep.waiting()];
  const list = [];
  for (const card of cards) {
    const mine = entries.filter((it) => it.survey === card.survey_id).length;
    const draft = await keep.draft(card.survey_id);
    if (!card.gone || mine > 0 || draft.text) list.push(item(card, mine, draft.text));
  }
  fill("roof-list", ...list);
  $("roof-none").hidden = list.length > 0;
  $("whose").textContent = `Enrolled for ${now.device.author} as “${now.device.name}”.`;
  view("roofs", "Choose a survey");
  await ready();
  await counts();
}

function item(card, mine, draft) {
  const state = [
    card.gone && "not shown to you any more",
    mine > 0 && `${mine} waiting`,
    draft && "a note half written",
    card.as_of ? `loaded ${clock(card.as_of)}` : "not loaded for the roof",
  ];
  return make("li", {}, make("button", { class: "survey", onclick: tries(() => open(card.survey_id)) },
    make("b", {}, card.name || card.survey_id), make("span", {}, ` ${state.filter(Boolean).join(", ")}`)));
}

// What has to be true for a day without signal.
export async function ready() {
  const loaded = (await keep.roofs()).filter((card) => card.as_of && !card.gone).length;
  const held = await navigator.storage?.persisted?.();
  const room = await keep.room();
  const line = (yes, good, bad) => make("li", {}, make("b", {}, yes ? "Yes: " : "Not yet: "), yes ? good : bad);
  fill("ready",
    line(Boolean(navigator.serviceWorker?.controller), "this page opens without signal.", globalThis.isSecureContext
      ? "the browser has not kept this page for use without signal. Load it once more."
      : "without HTTPS no browser keeps a page for use without signal. Ask the office for its https address."),
    line(loaded > 0, `${count(loaded, "survey")} loaded, with known hazards.`, "open a survey once while there is signal."),
    line(held, "the browser promised not to clear what is kept here.", "the browser may clear what is kept here when \
the phone runs short of room, or after a week unused. Add the page to the home screen, and exchange the same day."),
    room === undefined ? "" : line(room > 300, `room for about ${room} MB of photos.`,
      `only about ${room} MB left for photos. Free some room on the phone.`));
}

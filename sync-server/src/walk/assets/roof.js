// One survey: what is known of its roof, what waits, what the office made of it, and exchanging.

import { exchange } from "./exchange.js";
import { clock } from "./ids.js";
import * as keep from "./keep.js";
import { $, alarm, count, fill, hazards, make, say, textOf, told, view, waiting } from "./show.js";
import { now, tries, wordsFor } from "./state.js";
import { renewToken, sameDevice, showEnrol } from "./surveys.js";
import { keepNote } from "./take.js";

const CLOCK_OFF_MS = 120_000;

export async function open(survey) {
  now.survey = survey;
  now.card = await keep.roof(survey);
  await keep.setFact("last", survey);
  const draft = await keep.draft(survey);
  $("note").value = draft.text;
  Object.assign(now, { heard: draft.heard, began: draft.began });
  listUnits(draft.about);
  const name = now.card?.name || survey;
  $("roof-t").textContent = name;
  view("roof", name);
  await refresh();
  if (!now.card?.as_of) await handOver();
}

// The units to choose from, behind the two that are always there.
export function listUnits(chosen = $("about").value) {
  const fixed = [...$("about").options].slice(0, 2);
  const units = (now.card?.units ?? []).map((unit) => make("option", { value: unit.tag }, `${unit.tag}, ${unit.what}`));
  fill("about", ...fixed, ...units);
  $("about").value = chosen;
  if ($("about").selectedIndex < 0) $("about").value = "";
}

export async function counts() {
  const entries = await keep.waiting();
  $("waiting-all").textContent = `${entries.length} waiting`;
  return entries;
}

export async function refresh() {
  const entries = (await counts()).filter((it) => it.survey === now.survey);
  hazards(now.card, $("about").value);
  waiting(entries, { again: tries(again), save: tries(save), drop: tries(drop) });
  told(await keep.told(now.survey));
  const ready = entries.filter((it) => !it.trouble).length;
  $("exchange").textContent = ready ? `Exchange: ${ready} waiting` : "Exchange";
  $("exchanged").textContent = now.card?.as_of ? `Last exchange ${clock(now.card.as_of)}.` : "Not exchanged yet.";
  clockTrouble(now.card?.off_ms ?? 0);
  $("gone").hidden = !now.card?.gone;
  const others = (await keep.roofs()).filter((card) => !card.gone && card.survey_id !== now.survey);
  fill("other-roof", ...others.map((card) => make("option", { value: card.survey_id }, card.name || card.survey_id)));
  $("move").disabled = others.length === 0;
}

function clockTrouble(off) {
  $("clock").hidden = Math.abs(off) < CLOCK_OFF_MS;
  const far = `${Math.round(Math.abs(off) / 60_000)} minutes ${off > 0 ? "behind" : "ahead of"}`;
  $("clock").textContent = `This phone's clock is ${far} the office's. Set it right. Entries keep the phone's time, \
with the difference beside it.`;
}

export async function handOver() {
  if (now.busy) return;
  now.busy = true;
  $("exchange").setAttribute("aria-disabled", "true");
  alarm("");
  const mine = async () => (await keep.waiting()).filter((it) => it.survey === now.survey).length;
  try {
    await sameDevice();
    const before = await mine();
    now.card = await exchange(now.survey, say);
    await renewToken();
    listUnits();
    const left = await mine();
    if (left) say(`Exchanged. Not all went: ${left} still here, see “Waiting on this phone”.`);
    else say(before ? "Exchanged. Everything is on the office's disk." : "The newest from the office is here.");
  } catch (error) {
    await notExchanged(error);
  } finally {
    now.busy = false;
    $("exchange").removeAttribute("aria-disabled");
    if (now.survey) await refresh();
  }
}

async function notExchanged(error) {
  now.card = (await keep.roof(now.survey)) ?? { survey_id: now.survey };
  if (error.kind === "gone") {
    now.card.gone = true;
    await keep.setRoof(now.card);
  }
  if (error.kind === "unknown") {
    const left = (await keep.waiting()).length;
    showEnrol(`The office has shut this phone out, or it was not used for half a year. \
${count(left, "entry waits", "entries wait")} here and can be sent once it is enrolled again for ${now.device.author}.`);
  }
  alarm(wordsFor(error));
}

// --- what can be done with an entry that waits

async function again(entry) {
  await keep.change({ ...entry, trouble: null });
  await refresh();
}

async function drop(entry) {
  await keep.drop(entry.id);
  await refresh();
  say("Thrown away.");
}

async function save(entry) {
  const inside = entry.kind === "photo" ? await keep.photo(entry.id) : textOf(entry);
  const type = entry.kind === "photo" ? entry.type : "text/plain";
  const href = URL.createObjectURL(new Blob([inside], { type }));
  make("a", { href, download: `${entry.kind}-${entry.id}` }).click();
  say("A copy went to this phone's downloads.");
}

// Puts everything, the note in hand too, into another survey.
export async function moveAll() {
  const to = $("other-roof").value;
  if ($("note").value.trim()) await keepNote();
  await keep.move(now.survey, to);
  await open(to);
}

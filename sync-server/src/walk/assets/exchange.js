// Handing over what waits. An entry leaves the phone only after the office said that it is on
// disk; whatever is cut off is sent again, and the office enters nothing twice.

import { blake3 } from "./blake3.js";
import { freshId, stamp } from "./ids.js";
import * as keep from "./keep.js";
import * as office from "./office.js";

// Entries in one message, and letters: well under what the office takes.
const GROUP = 40;
const LETTERS = 60_000;
// Photos go in small groups, so that the phone has room again soon.
const PHOTOS = 4;

// Exchanges one survey, words first, and returns its newest card. `say` gets a line of progress.
export async function exchange(survey, say) {
  const mine = async () => (await keep.waiting()).filter((it) => it.survey === survey && !it.trouble);
  const entries = await mine();
  say("Asking the office");
  for (const group of groups(entries.filter((it) => it.kind !== "photo"))) await hand(survey, group);
  const photos = entries.filter((it) => it.kind === "photo");
  let sent = [];
  for (const [i, entry] of photos.entries()) {
    const here = `photo ${i + 1} of ${photos.length}`;
    say(`Sending ${here}`);
    const arrived = await send(survey, entry, (part) => say(`Sending ${here}: ${Math.round(part * 100)} %`));
    if (arrived) sent.push(arrived);
    if (sent.length === PHOTOS || i + 1 === photos.length) {
      if (sent.length > 0) await hand(survey, sent);
      sent = [];
    }
  }
  // What got a fresh name on the way goes once more.
  const again = await mine();
  if (again.some((it) => it.renamed)) await hand(survey, again.filter((it) => it.renamed));
  return keep.roof(survey);
}

// At least one group: an empty one asks how the roof stands.
function groups(entries) {
  const all = [[]];
  let letters = 0;
  for (const entry of entries) {
    const size = JSON.stringify(entry.body).length;
    if (all.at(-1).length === GROUP || (letters + size > LETTERS && letters > 0)) {
      all.push([]);
      letters = 0;
    }
    all.at(-1).push(entry);
    letters += size;
  }
  return all;
}

// Sends a photo's bytes; the entry with its hash, or nothing if the bytes are not to be had.
async function send(survey, entry, progress) {
  const bytes = await keep.photo(entry.id);
  if (!bytes?.byteLength) {
    await trouble(entry, "The browser has lost this photo's bytes. Take it again, then throw this away.");
    return null;
  }
  const hash = entry.body.hash ?? blake3(new Uint8Array(bytes));
  const named = { ...entry, body: { ...entry.body, hash } };
  try {
    await office.sendPhoto(survey, hash, bytes, entry.type, progress);
    return named;
  } catch (error) {
    if (error.kind !== "refused") throw error;
    await trouble(entry, `The office does not take this photo: ${error.message}`);
    return null;
  }
}

async function hand(survey, group) {
  const batch = { sent_at: stamp(), units: [], notes: [], photos: [] };
  for (const entry of group) batch[`${entry.kind}s`].push(entry.body);
  let answer;
  try {
    answer = await office.post(`/v1/surveys/${encodeURIComponent(survey)}/entries`, batch);
  } catch (error) {
    if (error.kind !== "refused" || group.length === 0) throw error;
    // One of them cannot be read: each by itself, so that it holds up no other.
    if (group.length > 1) {
      for (const entry of group) await hand(survey, [entry]);
    } else {
      await trouble(group[0], `The office cannot read this: ${error.place ?? ""} ${error.message}`);
    }
    return;
  }
  const sent = new Map(group.map((entry) => [entry.id, entry]));
  const kept = answer.kept.filter((it) => sent.has(it.id)).map((it) => ({ ...sent.get(it.id), ...it }));
  const card = { ...answer.roof, as_of: stamp(), off_ms: answer.clock_offset_ms };
  await keep.settle(kept, card);
  for (const { id, why, then } of answer.refused) {
    const entry = sent.get(id);
    if (!entry) continue;
    if (then === "fresh_id") await keep.rename({ ...entry, renamed: true }, freshId());
    else if (then === "ask") await trouble(entry, `The office did not take this: ${why}`);
  }
}

const trouble = (entry, text) => keep.change({ ...entry, trouble: text });

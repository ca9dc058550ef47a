// What the page is about right now, and what becomes of anything that fails.

import { Trouble } from "./office.js";
import { alarm } from "./show.js";

export const now = {
  device: {}, // id, token, author, name
  survey: null,
  card: null, // what is known of its roof
  heard: [], // pieces of the note that were spoken
  began: null, // when the note was
  busy: false,
};

// Whatever fails here and is no trouble with the office is about the phone's own storage.
export function wordsFor(error) {
  if (error instanceof Trouble) return error.message;
  if (error?.name === "QuotaExceededError") {
    return "This phone has no room left for this page: this was NOT kept. Exchange now, or free room on the \
phone, then try again. What was kept before is still here.";
  }
  return `The browser could not keep this (${error?.name}: ${error?.message}). It was NOT kept. Reload the page and \
try again; in a private window nothing can be kept.`;
}

// Work as an answer to an event; a failure is told, never swallowed.
export const tries = (work) => async (event) => {
  event?.preventDefault?.();
  try {
    await work(event);
  } catch (error) {
    alarm(wordsFor(error));
  }
};
